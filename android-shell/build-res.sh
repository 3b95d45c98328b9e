#!/usr/bin/env bash
# usage: build-res.sh AAPT2 OUT_DIR PLATFORM_JAR [--pseudo-localize]
# Compiles and links the resources, without an SDK: R.java into OUT/generated-r, tables into OUT/res.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd); aapt2=$1; out=$2; platform=$3; pseudo=${4:-}
rm -rf "$out/generated-r"; mkdir -p "$out/generated-r" "$out/res"
# aapt2 reads an apk: the two files of the platform that it needs, zipped again
[ -f "$out/res/platform.apk" ] || python3 - "$platform" "$out/res/platform.apk" <<'PY'
import sys, zipfile
with zipfile.ZipFile(sys.argv[1]) as i, zipfile.ZipFile(sys.argv[2], "w", zipfile.ZIP_STORED) as o:
    for name in ("AndroidManifest.xml", "resources.arsc"):
        o.writestr(name, i.read(name))
PY
"$aapt2" compile $pseudo --dir "$here/app/src/main/res" -o "$out/res/compiled.zip"
"$aapt2" link -I "$out/res/platform.apk" --manifest "$here/app/src/main/AndroidManifest.xml" \
  --min-sdk-version 26 --target-sdk-version 35 --auto-add-overlay --java "$out/generated-r" \
  --proguard "$out/res/aapt.pro" -o "$out/res/resources.ap_" "$out/res/compiled.zip"
