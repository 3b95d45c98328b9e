#!/usr/bin/env python3
"""Previews against Pillow for decoding and OpenCV's INTER_AREA for shrinking (both PyPI): orientation, chroma samplings, progressive, CMYK, grey, 16-bit PNG,
see-through PNG, WebP, all eight orientations of the published samples.

Usage: previews.py --bin target/release/examples/look [--samples FOLDER]
"""
import argparse
import io
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import cv2
    import numpy as np
    from PIL import Image, ImageOps
except ImportError:
    print("SKIPPED: Pillow, numpy or OpenCV is not installed")
    print("0 passed, 0 failed, 1 skipped")
    sys.exit(0)

here = Path(__file__).resolve().parent
shared = Path(os.environ.get("WITNESSMARK_SHARED", here.parents[2] / "shared"))
parser = argparse.ArgumentParser(description=__doc__)
parser.add_argument("--bin", required=True, help="the example `look` of the core")
parser.add_argument("--samples", default=shared / "outside", type=Path)
args = parser.parse_args()
passed = failed = skipped = 0
# Mean difference per channel that is allowed, of 255: two JPEG generations and two ways to shrink.
TOLERANCE = 4.0

with tempfile.TemporaryDirectory() as folder:
    folder = Path(folder)
    rng = np.random.default_rng(7)
    coarse = Image.fromarray(rng.integers(0, 255, (9, 12, 3), dtype=np.uint8))
    colour = coarse.resize((1600, 1200), Image.Resampling.BICUBIC)
    grey = colour.convert("L")
    deep = Image.fromarray(np.asarray(grey).astype(np.uint16) * 257)
    clear = colour.copy()
    clear.putalpha(grey)
    made = {
        "444.jpg": (colour, {"subsampling": 0, "quality": 95}),
        "422.jpg": (colour, {"subsampling": 1, "quality": 95}),
        "420.jpg": (colour, {"subsampling": 2, "quality": 95}),
        "progressive.jpg": (colour, {"progressive": True, "quality": 95}),
        "restarts.jpg": (colour, {"restart_marker_rows": 2, "quality": 95}),
        "grey.jpg": (grey, {"quality": 95}),
        "cmyk.jpg": (colour.convert("CMYK"), {"quality": 95}),
        "eight.png": (colour, {}),
        "palette.png": (colour.quantize(64), {}),
        "sixteen.png": (deep, {}),
        "clear.png": (clear, {}),
        "lossy.webp": (colour, {"quality": 95}),
        "lossless.webp": (colour, {"lossless": True}),
        "narrow.jpg": (colour.resize((17, 1501)), {"quality": 95}),
    }
    files = []
    for name, (image, how) in made.items():
        image.save(folder / name, **how)
        files.append(folder / name)
    colour.save(folder / "moving.webp", save_all=True, append_images=[grey.convert("RGB")], quality=95)
    files.append(folder / "moving.webp")
    samples = sorted((args.samples / "exif").glob("*"))
    if not samples:
        skipped += 1
        print(f"SKIPPED: no samples in {args.samples / 'exif'}")
    files += [p for p in samples if "LICENSE" not in p.name]
    out = folder / "out"
    out.mkdir()
    run = subprocess.run([args.bin, "--previews", out, *files], capture_output=True, text=True, check=True)
    for line in run.stdout.splitlines():
        row = json.loads(line)
        path = Path(row["file"])
        if row["says"] and row["says"]["code"] == "partly_shown":
            # Cut files: decoders differ in what they make of the rest.
            continue
        theirs = ImageOps.exif_transpose(Image.open(path))
        if theirs.mode.startswith("I"):
            theirs = Image.fromarray((np.asarray(theirs).astype(np.uint32) // 257).astype(np.uint8))
        if theirs.mode == "RGBA":
            white = Image.new("RGB", theirs.size, "white")
            white.paste(theirs, mask=theirs.getchannel("A"))
            theirs = white
        theirs = theirs.convert("RGB")
        view = row.get("view")
        if view is None:
            failed += 1
            print(f"FAILED {path.name}: no view: {row['says']}")
            continue
        for size, most in (("large", 1024), ("small", 320)):
            ours = Image.open(view[size]["path"])
            shape = theirs.width / theirs.height * ours.height / ours.width
            fits = max(ours.size) <= most and (max(theirs.size) <= most or max(ours.size) > most * 0.7)
            a = np.asarray(ours.convert("RGB")).astype(float)
            # Pillow's own BOX takes whole source pixels; the exact area is OpenCV's.
            b = cv2.resize(np.asarray(theirs), ours.size, interpolation=cv2.INTER_AREA)
            # Previews are JPEGs of quality 82 without chroma sampling: the other side gets the same loss.
            again = io.BytesIO()
            Image.fromarray(b).save(again, "JPEG", quality=82, subsampling=0)
            b = np.asarray(Image.open(again)).astype(float)
            off = abs(a - b).mean()
            allowed = TOLERANCE if max(theirs.size) > 200 else 12
            if fits and off <= allowed and abs(shape - 1) < 1.2 / min(ours.size):
                passed += 1
            else:
                failed += 1
                print(f"FAILED {path.name} {size}: {ours.size} of {theirs.size}, mean difference {off:.2f}")
print(f"compared the previews of {len(files)} files with Pillow {Image.__version__}")
print(f"{passed} passed, {failed} failed, {skipped} skipped")
sys.exit(1 if failed else 0)
