"""Usage: paint.py --bin PROGRAM [--runs N]
Time to first contentful paint (https://www.w3.org/TR/paint-timing/) of a report with 500 photos, as a
ratio to a plain page that holds the same photos and the same words without style, script or structure,
filled up to the same bytes. Medians of alternating runs in Chromium. The bound is 1.5."""
import argparse, html, pathlib, re, statistics, subprocess, sys, tempfile
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "browser"))
import made
from wire import Chromium


def plain_of(page):
    body = page[page.index("<body"):]
    body = re.sub(r"<script>.*?</script>|<style>.*?</style>|<svg.*?</svg>", "", body, flags=re.S)
    parts = []
    for part in re.split(r"(<img[^>]*>)", body):
        address = re.search(r'src="(data:[^"]*)"', part) if part.startswith("<img") else None
        words = html.escape(html.unescape(re.sub(r"<[^>]*>", " ", part)))
        parts.append(f'<img src="{address[1]}" alt="">' if address else f"<p>{words}</p>")
    made_of = "<!doctype html><meta charset=utf-8><title>plain</title>" + "".join(parts)
    missing = len(page.encode()) - len(made_of.encode())
    return made_of + "<!--" + "x" * (missing - 7) + "-->"


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--bin", required=True)
    asked.add_argument("--runs", type=int, default=9)
    asked = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder, Chromium() as chromium:
        folder = pathlib.Path(folder)
        made.photos(asked.bin, folder / "book")
        ours, plain = folder / "report.html", folder / "plain.html"
        subprocess.run([asked.bin, "-C", folder / "book", "report", "--out", ours], check=True, capture_output=True)
        plain.write_text(plain_of(ours.read_text()))
        size = ours.stat().st_size
        assert plain.stat().st_size == size, (plain.stat().st_size, size)
        page = chromium.page()
        page.screen(1440, 900)
        page.call("Network.setCacheDisabled", cacheDisabled=True)
        times = {ours: [], plain: []}
        for turn in range(asked.runs + 1):
            for file in (ours, plain):
                page.open(file)
                paint = page.js("performance.getEntriesByName('first-contentful-paint')[0].startTime")
                if turn:  # the first of each warms the disk
                    times[file].append(paint)
                page.call("Page.navigate", url="about:blank")
                page.wait_for("Page.loadEventFired")
        a, b = (statistics.median(times[file]) for file in (ours, plain))
        print(f"{chromium.version}, {size / 1e6:.1f} MB, 500 photos: report {a:.0f} ms, plain {b:.0f} ms, ratio {a / b:.2f} (bound 1.5); "
              f"all: {[round(t) for t in times[ours]]} {[round(t) for t in times[plain]]}")
        if a / b > 1.5:
            print("OVER THE BOUND")


if __name__ == "__main__":
    main()
