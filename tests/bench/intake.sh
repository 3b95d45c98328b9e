#!/usr/bin/env bash
# Taking in one 12-megapixel JPEG (examined, digests, one decode, two previews, sharpness, exposure,
# near-copy signs) against `vipsthumbnail` making one 512-pixel thumbnail (Debian libvips-tools): whole
# processes, medians of pairs run in turn, printed as ratios.
#
# Usage: tests/bench/intake.sh [PHOTO]   (without one, a 12-megapixel photo is drawn)
set -eu
cd "$(dirname "$0")/../.."
command -v vipsthumbnail >/dev/null || { echo "SKIPPED: vipsthumbnail is not installed (libvips-tools)"; exit 0; }
[ -x /usr/bin/time ] || { echo "SKIPPED: /usr/bin/time is not installed (time)"; exit 0; }
cargo build --release -q --workspace --examples
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
photo=${1:-}
if [ -z "$photo" ]; then
  photo=$work/photo.jpg
  target/release/examples/draw 4000 3000 "$photo"
fi
mkdir "$work/previews"
for _ in 1 2 3 4 5 6 7 8 9 10 11; do
  /usr/bin/time -a -o "$work/ours" -f "%e %U %S %M" target/release/examples/look --previews "$work/previews" "$photo" >/dev/null
  /usr/bin/time -a -o "$work/vips" -f "%e %U %S %M" vipsthumbnail "$photo" -s 512 -o "$work/thumb.jpg"
done
# wall, CPU, memory: the median of each
medians() { for column in '$1' '$2+$3' '$4'; do awk "{print $column}" "$1" | sort -g | sed -n 6p; done | paste -sd' '; }
read -r wall cpu memory <<<"$(medians "$work/ours")"
read -r vwall vcpu vmemory <<<"$(medians "$work/vips")"
echo "photo: $(stat -c %s "$photo") bytes"
awk -v a="$wall" -v b="$vwall" -v c="$cpu" -v d="$vcpu" -v e="$memory" -v f="$vmemory" 'BEGIN {
  printf "wall %.2f x (must be <= 0.85; pure Rust <= 1.8), CPU %.2f x, memory %.2f x (must be <= 0.30) of vipsthumbnail\n", a/b, c/d, e/f }'
