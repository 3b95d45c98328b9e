#!/usr/bin/env python3
"""What the library reads out of the published EXIF and HEIC samples, against exiftool.

Outside: exiftool (Debian libimage-exiftool-perl) on the samples of Pillow, pillow_heif and others.
Usage: exif.py --bin target/release/examples/look [--samples FOLDER]
"""
import argparse
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

here = Path(__file__).resolve().parent
shared = Path(os.environ.get("WITNESSMARK_SHARED", here.parents[2] / "shared"))
parser = argparse.ArgumentParser(description=__doc__)
parser.add_argument("--bin", required=True, help="the example `look` of the core")
parser.add_argument("--samples", default=shared / "outside", type=Path)
args = parser.parse_args()

passed = failed = skipped = 0
files = sorted(p for d in ("exif", "heic") for p in (args.samples / d).glob("*") if "LICENSE" not in p.name)
if not files or not shutil.which("exiftool"):
    why = "exiftool is not installed" if files else f"no samples in {args.samples}"
    print(f"SKIPPED: {why}")
    print("0 passed, 0 failed, 1 skipped")
    sys.exit(0)


def check(name, what, ours, theirs):
    global passed, failed
    if ours == theirs:
        passed += 1
    else:
        failed += 1
        print(f"FAILED {name}: {what} is {ours!r}, exiftool says {theirs!r}")


said = json.loads(subprocess.run(["exiftool", "-j", "-n", "-G1", *files], capture_output=True, text=True).stdout)
said = {row["SourceFile"]: row for row in said}
lines = subprocess.run([args.bin, *files], capture_output=True, text=True, check=True).stdout.splitlines()
KINDS = {"JPEG": "jpg", "MPO": "jpg", "HEIC": "heic", "Extended WEBP": "webp"}
for line in lines:
    row = json.loads(line)
    ours, tool, name = row["examined"], said[row["file"]], Path(row["file"]).name
    check(name, "type", ours["media"], KINDS[tool["File:FileType"]])
    width = tool.get("File:ImageWidth", tool.get("RIFF:ImageWidth", 0))
    height = tool.get("File:ImageHeight", tool.get("RIFF:ImageHeight", 0))
    check(name, "size", [ours["width"], ours["height"]], [width, height])
    if ours["media"] == "heic":
        # The container's turn, anti-clockwise in the standard; exiftool gives degrees clockwise-negative.
        turn = tool.get("QuickTime:Rotation", 0)
        check(name, "container turn", ours["orientation"], {0: 1, 90: 8, 180: 3, 270: 6}[turn])
    else:
        check(name, "orientation", ours["orientation"], tool.get("IFD0:Orientation", 1))
    date = tool.get("ExifIFD:DateTimeOriginal")
    theirs = None
    if date:
        theirs = date[:10].replace(":", "-") + "T" + date[11:]
        fraction = str(tool.get("ExifIFD:SubSecTimeOriginal", ""))
        if fraction:
            # -n prints 046 as 46: ask again as text
            fraction = subprocess.run(["exiftool", "-s3", "-SubSecTimeOriginal", row["file"]], capture_output=True, text=True).stdout.strip()
            theirs += "." + fraction
    check(name, "time", ours["seen"] and ours["seen"]["time"], theirs)
    check(name, "offset", ours["seen"] and ours["seen"]["offset"], tool.get("ExifIFD:OffsetTimeOriginal") if date else None)
    lat, lon = tool.get("Composite:GPSLatitude"), tool.get("Composite:GPSLongitude")
    if isinstance(lat, (int, float)) and isinstance(lon, (int, float)):
        gps = ours["gps"] or {"lat": "nan", "lon": "nan"}
        near = abs(float(gps["lat"]) - lat) < 1e-6 and abs(float(gps["lon"]) - lon) < 1e-6
        check(name, "position", near, True)
        altitude = tool.get("Composite:GPSAltitude")
        if isinstance(altitude, (int, float)):
            check(name, "altitude", abs(float(gps["alt"]) - altitude) < 0.06, True)
    else:
        check(name, "position", ours["gps"], None)
    camera = ours["camera"] or {"make": "", "model": ""}
    check(name, "make", camera["make"], str(tool.get("IFD0:Make", "")).strip())
    check(name, "model", camera["model"], str(tool.get("IFD0:Model", "")).strip())
print(f"compared {len(lines)} samples with exiftool {subprocess.run(['exiftool', '-ver'], capture_output=True, text=True).stdout.strip()}: type, size, turn, time, offset, position, camera")
print(f"{passed} passed, {failed} failed, {skipped} skipped")
sys.exit(1 if failed else 0)
