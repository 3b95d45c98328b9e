#!/usr/bin/env python3
"""The `picture` digest, derived a second time from its published text, and held through stripping.

A reader of its own (core/src/evidence/picture.rs has the text), against the library on every
sample, and before against after `exiftool -all=` (Debian libimage-exiftool-perl). Further JPEGs of
every coding come from Pillow (PyPI).
Usage: picture.py --bin target/release/examples/look [--samples FOLDER]
"""
import argparse
import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from jpeg_picture import picture


def main():
    here = Path(__file__).resolve().parent
    shared = Path(os.environ.get("WITNESSMARK_SHARED", here.parents[2] / "shared"))
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bin", required=True, help="the example `look` of the core")
    parser.add_argument("--samples", default=shared / "outside", type=Path)
    args = parser.parse_args()
    counts = {"passed": 0, "failed": 0, "skipped": 0}

    def check(name, what, good):
        counts["passed" if good else "failed"] += 1
        if not good:
            print(f"FAILED {name}: {what}")

    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        files = [p for p in sorted((args.samples / "exif").glob("*")) if p.suffix in (".jpg", ".mpo")]
        if not files:
            counts["skipped"] += 1
            print(f"SKIPPED: no samples in {args.samples / 'exif'}")
        try:
            from PIL import Image

            base = Image.effect_mandelbrot((160, 120), (-3, -2.5, 2, 2.5), 40)
            colour = Image.merge("RGB", (base, base.transpose(0), base.transpose(1)))
            ways = {
                "grey": (base, {}),
                "progressive": (colour, {"progressive": True}),
                "restarts": (colour, {"restart_marker_rows": 1}),
                "cmyk": (colour.convert("CMYK"), {}),
                "wide": (colour, {"subsampling": 0, "comment": b"a note", "icc_profile": b"p" * 300}),
            }
            for name, (image, how) in ways.items():
                path = folder / f"{name}.jpg"
                exif = Image.Exif()
                exif[0x10F] = "Maker"
                image.save(path, exif=exif, **how)
                files.append(path)
            # An APP14 that is not Adobe's, and fill bytes in front of a marker.
            plain = (folder / "progressive.jpg").read_bytes()
            odd = folder / "odd.jpg"
            odd.write_bytes(plain[:2] + b"\xff\xee\x00\x08Else!!" + b"\xff\xff\xff" + plain[2:])
            files.append(odd)
            check("odd.jpg", "other APP14 and fill bytes change the digest", picture(odd.read_bytes()) == picture(plain))
        except ImportError:
            counts["skipped"] += 1
            print("SKIPPED: Pillow is not installed")
        stripped = {}
        for path in files:
            if shutil.which("exiftool"):
                copy = folder / f"stripped-{path.name}"
                # exiftool refuses to write some broken files; those have no digest to hold.
                run = subprocess.run(["exiftool", "-q", "-m", "-all=", "-o", copy, path], capture_output=True)
                if run.returncode == 0 and copy.exists():
                    stripped[path] = copy
        if not shutil.which("exiftool"):
            counts["skipped"] += 1
            print("SKIPPED: exiftool is not installed")
        everything = files + list(stripped.values())
        out = subprocess.run([args.bin, *everything], capture_output=True, text=True, check=True).stdout
        ours = {Path(r["file"]): r["examined"]["picture"] for r in map(json.loads, out.splitlines())}
        for path in everything:
            check(path.name, "the library and this reader differ", ours[path] == picture(path.read_bytes()))
        held = 0
        for path, copy in stripped.items():
            before, after = picture(path.read_bytes()), picture(copy.read_bytes())
            if before is None:
                continue
            changed = path.read_bytes() != copy.read_bytes()
            check(path.name, "stripping changes the digest", before == after)
            held += changed
        for path in files:
            if picture(path.read_bytes()) is not None and path not in stripped and shutil.which("exiftool"):
                counts["skipped"] += 1
                print(f"SKIPPED: exiftool does not write {path.name}")
        print(f"compared {len(everything)} files with a second reader; {held} digests held through `exiftool -all=` that changed the file")
    print("{passed} passed, {failed} failed, {skipped} skipped".format(**counts))
    sys.exit(1 if counts["failed"] else 0)


if __name__ == "__main__":
    main()
