#!/usr/bin/env bash
# Usage: bindings/kotlin/generate.sh [fault]
# Builds the library and generates Kotlin and Python from it (library mode: what was compiled is what
# is described). Everything lands below target/door:
#   lib/libwitnessmark_ffi.so     the library, for jna.library.path
#   kotlin/witnessmark/door/*.kt  needs JNA >= 5.18.1
#   python/witnessmark.py
# `fault`: the same below target/door-fault, with the one call that panics, for tests.
set -euo pipefail
cd "$(dirname "$0")/../.."
features=witnessmark-ffi/bindgen out=target/door
case "${1:-}" in
  "") ;;
  fault) features=witnessmark-ffi/bindgen,witnessmark-ffi/fault out=target/door-fault ;;
  *) sed -n 2,8p "$0"; exit 2 ;;
esac
# The whole workspace with its examples: what it stands on then has the very features that tests/run
# builds with, and nothing is compiled a second time.
cargo build --release --quiet --workspace --lib --bins --examples --features "$features"
fresh=$(mktemp -d "target/door.XXXXXX")
trap 'rm -rf "$fresh"' EXIT
mkdir -p "$fresh/lib"
cp target/release/libwitnessmark_ffi.so "$fresh/lib/"
cp target/release/witnessmark-bindgen "$fresh/"
for language in kotlin python; do
  "$fresh/witnessmark-bindgen" generate --language "$language" --no-format \
    --config bindings/ffi/uniffi.toml --out-dir "$fresh/$language" \
    "$fresh/lib/libwitnessmark_ffi.so"
done
# Files keep their place and time where nothing changed, so that builds on top need not start again.
mkdir -p "$out"
for file in $(cd "$fresh" && find lib kotlin python -type f); do
  if ! cmp -s "$fresh/$file" "$out/$file"; then
    mkdir -p "$(dirname "$out/$file")"
    mv -f "$fresh/$file" "$out/$file"
  fi
done
echo "generated below $out"
