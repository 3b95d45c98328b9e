#!/usr/bin/env bash
# Usage: bindings/android/check.sh
# Links the library for Android (arm64, x86-64; armv7 is compiled only) without an NDK, and looks at what
# came out: 16 KiB pages, no undefined symbol beyond symbols.txt, no library needed but Android's own, a
# bounded size. Then it runs both over glibc (arm64 under qemu-user) through a shim of a few lines: a
# notebook is made, and read by programs that did not make it. Nothing here has run on a phone.
#
# From Debian (bookworm-security): a compiler with its library's source for build-std, clang, lld, the
# headers of glibc for the other processors, qemu. Where they cannot be installed: SKIPPED.
# WITNESSMARK_WRITE_SYMBOLS=1 writes symbols.txt anew; look through it before it is kept.
set -euo pipefail
cd "$(dirname "$0")/../.."
here=bindings/android out=$PWD/target/android llvm=/usr/lib/llvm-22/bin
# Most megabytes of the stripped library. A phone's app store counts each; a change beyond this is seen.
most=16

packages=(rustc-web rust-web-src libstd-rust-web-dev clang-22 lld-22 llvm-22 qemu-user-static libc6-dev-arm64-cross libc6-dev-amd64-cross libc6-dev-armhf-cross)
if ! dpkg -s "${packages[@]}" >/dev/null 2>&1; then
  if [ "$(id -u)" != 0 ] || ! (apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${packages[@]}") >/dev/null 2>&1; then
    echo "SKIPPED: the library for Android: ${packages[*]} cannot be installed from Debian here"; exit 0
  fi
fi
compiler=/usr/bin/rustc
"$compiler" --version | grep -q '^rustc 1\.\(9[6-9]\|[1-9][0-9][0-9]\)\.' || { echo "SKIPPED: the library for Android: Debian's rustc is not the one that this was written for"; exit 0; }
mkdir -p "$out"

# build ARCH COMMAND…: cargo with this project's C compiled over glibc's headers and linked by lld alone.
build() {
  local arch=$1 target clang headers abi=(); shift
  case $arch in
    aarch64) target=aarch64-linux-android; clang=aarch64-linux-android26 headers=/usr/aarch64-linux-gnu/include;;
    x86_64)  target=x86_64-linux-android; clang=x86_64-linux-android26 headers=/usr/x86_64-linux-gnu/include;;
    # glibc's headers there know floats in registers only; nothing of this is linked
    armv7)   target=armv7-linux-androideabi; clang=armv7a-linux-androideabi26 headers=/usr/arm-linux-gnueabihf/include; abi=(-D__ARM_PCS_VFP);;
  esac
  local stubs=$out/$arch flags variable=${target//-/_}
  flags="-C linker=$llvm/clang -C link-arg=--target=$clang -C link-arg=-fuse-ld=$llvm/ld.lld -C link-arg=-nostdlib -C link-arg=-L$stubs -C link-arg=$stubs/crt.o"
  flags+=" -C link-arg=-Wl,--no-as-needed,-lc,-lm,-ldl -C link-arg=-Wl,-z,max-page-size=16384,-z,now,-z,relro,-z,${undefined:-defs} -C link-arg=-Wl,--version-script=$PWD/$here/hidden.ver"
  env RUSTC="$compiler" RUSTC_BOOTSTRAP=1 CARGO_TARGET_DIR="$out/target" CARGO_PROFILE_RELEASE_DEBUG=false CARGO_INCREMENTAL=0 \
    "CARGO_TARGET_$(tr a-z- A-Z_ <<<"$target")_RUSTFLAGS=$flags" \
    "CC_$variable=$llvm/clang" "AR_$variable=$llvm/llvm-ar" \
    "CFLAGS_$variable=--target=$clang -nostdlibinc -isystem $headers ${abi[*]} -include $PWD/$here/glibc_as_bionic.h -DSQLITE_DISABLE_LFS" \
    cargo "$@" --quiet --release -Z build-std=std,panic_unwind --target "$target" -p witnessmark-ffi --lib --features fault,own-unwinder
}

# stubs ARCH: what is linked against instead of Android's own libraries: nothing but the listed names.
stubs() {
  local arch=$1 folder=$out/$1 triple library
  triple=$arch-linux-android26
  rm -rf "$folder"; mkdir -p "$folder"
  "$llvm/clang" --target="$triple" -fPIC -O1 -c "$here/crt.c" -o "$folder/crt.o"
  "$llvm/llvm-ar" rc "$folder/libunwind.a"
  for library in c m dl log; do
    grep "^lib$library " "$here/symbols.txt" | cut -d' ' -f2 | sed 's/.*/void &(void) {}/' >"$folder/$library.c" || true
    "$llvm/clang" --target="$triple" -w -fno-builtin -ffreestanding -fPIC -shared -nostdlib -fuse-ld="$llvm/ld.lld" -Wl,-soname,"lib$library.so" "$folder/$library.c" -o "$folder/lib$library.so"
  done
}

failed=0
fail() { echo "FAILED $*"; failed=1; }

for arch in aarch64 x86_64; do
  from=$(date +%s)
  stubs "$arch"
  if [ -n "${WITNESSMARK_WRITE_SYMBOLS:-}" ]; then undefined=undefs; fi
  build "$arch" build
  library=$out/$arch/libwitnessmark_ffi.so
  "$llvm/llvm-strip" --strip-unneeded "$out/target/$arch-linux-android/release/libwitnessmark_ffi.so" -o "$library"
  "$llvm/llvm-nm" -D --undefined-only "$library" | awk '{print $NF}' | sort -u >"$out/$arch/undefined"
  if [ -n "${WITNESSMARK_WRITE_SYMBOLS:-}" ]; then
    cat "$out"/*/undefined | sort -u | python3 -c '
import re, sys
# Which of Android'"'"'s libraries has a name: libdl loads, libm reckons (C11, 7.12), libc has all else.
dl = {"dlopen", "dlsym", "dlclose", "dlerror", "dladdr", "dl_iterate_phdr"}
m = re.compile(r"^(a?(sin|cos|tan)h?|atan2|exp|exp2|expm1|log|log2|log10|log1p|pow|sqrt|cbrt|hypot|floor|ceil|round|trunc|rint|fmod|fma|ldexp|frexp|fdim|fmax|fmin|tgamma|lgamma|lgamma_r|sincos)f?$")
for name in sys.stdin.read().split():
    name = name.split("@")[0]
    print("libdl" if name in dl else "libm" if m.match(name) else "libc", name)' >"$here/symbols.new"
    sort -u "$here/symbols.new" >"$here/symbols.txt"; rm "$here/symbols.new"
    stubs "$arch"; continue
  fi
  beyond=$(comm -23 "$out/$arch/undefined" <(cut -d' ' -f2 "$here/symbols.txt" | sort -u) | tr '\n' ' ')
  [ -z "$beyond" ] || fail "$arch: undefined beyond symbols.txt: $beyond"
  needed=$("$llvm/llvm-readelf" -d "$library" | sed -n 's/.*NEEDED.*\[\(.*\)\]/\1/p' | sort | tr '\n' ' ')
  [ "$needed" = "libc.so libdl.so libm.so " ] || fail "$arch: needs $needed"
  pages=$("$llvm/llvm-readelf" -lW "$library" | awk '$1=="LOAD"{print $NF}' | sort -u | tr '\n' ' ')
  [ "$pages" = "0x4000 " ] || fail "$arch: pages of $pages"
  # What the Kotlin calls is there, and the unwinder stays inside.
  "$llvm/llvm-nm" -D --defined-only "$library" | awk '{print $NF}' >"$out/$arch/defined"
  grep -q '^uniffi_witnessmark_ffi_fn_method_notebook_take_photo$' "$out/$arch/defined" || fail "$arch: the door is not exported"
  ! grep -q '^_Unwind' "$out/$arch/defined" || fail "$arch: the unwinder is exported"
  bytes=$(stat -c %s "$library")
  echo "$arch: $(awk "BEGIN{printf \"%.1f\", $bytes/1e6}") MB stripped (bound $most), $(wc -l <"$out/$arch/undefined") undefined symbols, $(( $(date +%s) - from )) s"
  [ "$bytes" -le $((most * 1000000)) ] || fail "$arch: larger than $most MB"

  # The same file, run over glibc.
  case $arch in aarch64) root=/usr/aarch64-linux-gnu loader=ld-linux-aarch64.so.1 run="qemu-aarch64-static -L $root";; *) root=/usr/x86_64-linux-gnu loader=ld-linux-x86-64.so.2 run="";; esac
  over=$out/$arch/over; rm -rf "$over"; mkdir -p "$over"
  glibc=$root/lib
  compile=("$llvm/clang" --target="$arch-linux-gnu" -nostdlibinc -isystem "$root/include" -fuse-ld="$llvm/ld.lld" -nostdlib -B"$glibc" -L"$glibc")
  "${compile[@]}" -w -fPIC -shared -Wl,-soname,libc.so "$here/bionic_over_glibc.c" "$glibc/libc.so.6" "$glibc/libm.so.6" -o "$over/libc.so"
  cp "$glibc/libm.so.6" "$over/libm.so"; cp "$glibc/libdl.so.2" "$over/libdl.so"
  "${compile[@]}" -fPIE -pie -Wl,-dynamic-linker,"$glibc/$loader" -Wl,--disable-new-dtags,-rpath,"$over:$out/$arch:$glibc" -Wl,--allow-shlib-undefined "$glibc/Scrt1.o" "$glibc/crti.o" "$here/run.c" "$library" "$over/libc.so" "$glibc/libc.so.6" "$glibc/crtn.o" -o "$over/run"
  notebook=$out/$arch/notebook; rm -rf "$notebook"
  if $run "$over/run" "$notebook"; then
    # Read by what did not write it: Python's SHA-256 along the chain, Python's SQLite, the desk's verify.
    python3 - "$notebook" <<'P' || fail "$arch: what it wrote"
import hashlib, json, pathlib, sqlite3, sys
root = pathlib.Path(sys.argv[1])
lines = 0
for chain in root.glob("record/*/*.jsonl"):
    before = "0" * 64
    for line in chain.read_bytes().splitlines():
        entry = json.loads(line)["entry"]
        assert entry["prev"] == before, chain
        before = hashlib.sha256(line).hexdigest()
        lines += 1
base = sqlite3.connect(root / "index.sqlite")
assert base.execute("pragma integrity_check").fetchone() == ("ok",)
assert base.execute("pragma journal_mode").fetchone() == ("wal",)
held = base.execute("select count(*) from line").fetchone()[0]
assert lines == held and lines >= 22, (lines, held)
print(f"{lines} lines chained by SHA-256 (hashlib agrees), all in SQLite's index (integrity ok, WAL)")
P
    if [ -x target/release/witnessmark ]; then target/release/witnessmark -C "$notebook" verify >/dev/null || fail "$arch: the desk's verify"; fi
  else
    fail "$arch: it does not run"
  fi
done
if [ -z "${WITNESSMARK_WRITE_SYMBOLS:-}" ]; then
  from=$(date +%s)
  if build armv7 check; then echo "armv7: compiles, $(( $(date +%s) - from )) s"; else fail "armv7 does not compile"; fi
fi
exit $failed
