#!/usr/bin/env bash
# Every file system call of a command fails in turn (EIO, ENOSPC) or is the last thing the program does
# (SIGKILL); after each, the notebook must verify as intact, and nothing that was acknowledged (exit 0)
# may be gone.
#
#   tests/faults/strace.sh BINARY [STEP]     STEP 1 (deep) tries every call, 7 (the default) a sample.
#
# Needs strace and jq. Prints "N passed, N failed" and exits non-zero on a failure.
set -u
binary=$(realpath "${1:?the witnessmark binary}")
step=${2:-7}
command -v strace >/dev/null && command -v jq >/dev/null || { echo "SKIPPED: strace or jq is not installed"; exit 0; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
calls=openat,write,pwrite64,fsync,fdatasync,rename,renameat,renameat2,mkdir,unlink,ftruncate,fchmod,chmod
passed=0 failed=0

quiet() { "$@" >/dev/null 2>&1; }
wm() { "$binary" --now 2026-05-03T09:10:00+02:00 "$@"; }

# A small notebook with one finished and one open walkaround, and a pack of somebody else to receive.
# The photos are made of nothing but a JPEG's frame and differing bytes: invented.
photo() { printf '\xff\xd8\xff\xdb\x00\x04\x00%b\xff\xd9' "\\x0$1" >"$2"; }
photo 1 "$work/1.jpg"; photo 2 "$work/2.jpg"; photo 3 "$work/3.jpg"
quiet wm init "$work/base" --author Invented --role owner
layout=$(wm layout list --json | jq -r '.layouts[0].name')
quiet wm -C "$work/base" aircraft add N0TEST --type invented --layout "$layout"
quiet wm -C "$work/base" walkaround start
quiet wm -C "$work/base" photo "$work/1.jpg"
quiet wm -C "$work/base" walkaround finish
quiet wm -C "$work/base" pack --cut review --out "$work/other.zip"
quiet wm -C "$work/base" walkaround start
quiet wm init "$work/reader" --author Reader --role mechanic

lines() { cat "$1"/record/*/*.jsonl 2>/dev/null | wc -l; }

# try NAME NOTEBOOK COMMAND…: the command once under each fault of each call.
try() {
  local name=$1 from=$2; shift 2
  rm -rf "$work/run" "$work/out"; cp -a "$from" "$work/run"
  strace -f -qq -e trace=$calls -o "$work/trace" "$binary" -C "$work/run" "$@" >/dev/null 2>&1
  local total after before
  total=$(wc -l <"$work/trace"); after=$(lines "$work/run"); before=$(lines "$from")
  for fault in error=EIO error=ENOSPC signal=KILL; do
    for ((n = 1; n <= total; n += step)); do
      rm -rf "$work/run" "$work/out" "$work/out.partial"; cp -a "$from" "$work/run"
      strace -f -qq -o /dev/null -e trace=$calls -e inject=$calls:$fault:when=$n "$binary" -C "$work/run" "$@" >"$work/said" 2>&1
      local status=$? now report
      now=$(lines "$work/run")
      report=$(wm verify "$work/run" --json 2>/dev/null)
      local bad=""
      [ -n "$report" ] || bad="verify could not run"
      [ -z "$bad" ] && [ "$(jq '[.rows[] | select(.status == "failure")] | length' <<<"$report")" -ne 0 ] && bad="verify: $(jq -c '[.rows[] | select(.status == "failure")]' <<<"$report")"
      [ "$status" -eq 0 ] && [ "$now" -lt "$after" ] && bad="acknowledged, and lines are gone ($now of $after)"
      [ "$now" -lt "$before" ] && bad="lines that were there are gone ($now of $before)"
      # The same command, undisturbed, must then do its work (a second finish finds nothing open).
      if [ -z "$bad" ] && [ "$name" != finish ]; then
        rm -rf "$work/out" "$work/out.partial"
        quiet wm -C "$work/run" "$@" || bad="it cannot go on afterwards: $(wm -C "$work/run" "$@" 2>&1 | tail -1)"
      fi
      if [ -n "$bad" ]; then failed=$((failed + 1)); echo "FAILED: $name, $fault at call $n of $total: $bad"; else passed=$((passed + 1)); fi
    done
  done
}

try photo "$work/base" photo "$work/2.jpg"
try note "$work/base" note "a note"
try finish "$work/base" walkaround finish
try receive "$work/reader" receive "$work/other.zip"
try pack "$work/base" pack --cut review --out "$work/out"
try index "$work/base" index rebuild

# A full disk: refused cleanly, opens, and goes on once there is room.
if [ "$(id -u)" -eq 0 ] && mkdir -p "$work/small" && mount -t tmpfs -o size=3m tmpfs "$work/small" 2>/dev/null; then
  cp -a "$work/base" "$work/small/notebook"
  head -c 2900000 /dev/zero >"$work/small/filler" 2>/dev/null
  head -c 1000000 /dev/urandom >"$work/big"; { printf '\xff\xd8\xff\xdb\x00\x04\x00\x01'; cat "$work/big"; printf '\xff\xd9'; } >"$work/big.jpg"
  wm -C "$work/small/notebook" photo "$work/big.jpg" >"$work/said" 2>&1; status=$?
  if [ $status -eq 3 ] && wm verify "$work/small/notebook" --json | jq -e '[.rows[] | select(.status == "failure")] | length == 0' >/dev/null; then passed=$((passed + 1)); else failed=$((failed + 1)); echo "FAILED: full disk: exit $status: $(cat "$work/said")"; fi
  rm "$work/small/filler"
  if quiet wm -C "$work/small/notebook" photo "$work/big.jpg"; then passed=$((passed + 1)); else failed=$((failed + 1)); echo "FAILED: it does not go on after space was freed"; fi
  umount "$work/small"
else
  echo "SKIPPED: no right to mount a small disk"
fi
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
