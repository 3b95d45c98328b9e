"""Usage: pictures.py --bin PROGRAM --demo FOLDER [--to fixtures/pictures]
The pictures that README shows, from the demo: the page's first screen, a finding with its growth, the
diagram, the sheet. Few colours, so that each stays under 300 kB."""
import argparse, io, pathlib, subprocess, sys, tempfile
import pdfplumber
from PIL import Image
from page import content_of, ready
from wire import Chromium

MOST = 300_000


def keep(picture, to, width):
    picture = picture.convert("RGB")
    if picture.width > width:
        picture = picture.resize((width, round(picture.height * width / picture.width)), Image.LANCZOS)
    for colours in (128, 64, 32, 16):
        out = io.BytesIO()
        picture.quantize(colours, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
        if out.tell() < MOST:
            break
    else:
        raise SystemExit(f"{to.name} is {out.tell()} bytes")
    to.write_bytes(out.getvalue())
    print(f"{to}: {picture.width} × {picture.height}, {out.tell()} bytes, {colours} colours")


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--bin", required=True)
    asked.add_argument("--demo", required=True)
    asked.add_argument("--to", default=pathlib.Path(__file__).resolve().parents[2] / "fixtures/pictures")
    asked = asked.parse_args()
    to = pathlib.Path(asked.to)
    notebook = pathlib.Path(asked.demo) / "buyer"
    with tempfile.TemporaryDirectory() as folder, Chromium() as chromium:
        folder = pathlib.Path(folder)
        for cut in ("whole", "sheet"):
            subprocess.run([asked.bin, "-C", notebook, "report", "--cut", cut, "--out", folder / f"{cut}.html"], check=True, capture_output=True)
        crack = next(item for item in content_of(asked.bin, notebook)["findings"] if item["condition"] == "crack")
        page = chromium.page()
        page.screen(1180, 860)
        page.open(folder / "whole.html")
        page.js(ready)
        shot = folder / "shot.png"
        page.shot(shot)
        keep(Image.open(shot), to / "page_top.png", 1180)
        page.part(shot, f"#f{crack['id']}", spare=10)
        keep(Image.open(shot), to / "page_finding.png", 1000)
        page.part(shot, ".drawing", spare=2)
        keep(Image.open(shot), to / "page_diagram.png", 1000)
        page.open(folder / "sheet.html")
        page.js(ready)
        page.pdf(folder / "sheet.pdf")
        keep(pdfplumber.open(folder / "sheet.pdf").pages[0].to_image(resolution=105).original, to / "sheet.png", 870)


if __name__ == "__main__":
    main()
