"""Usage: paper.py --bin PROGRAM --demo FOLDER [--pages FOLDER]
Every cut printed by Chromium to A4 and Letter and read back by pdfplumber (PyPI): page numbers,
registration and proof code on each sheet, no photo and no row of a table cut in two, nothing but grey
beside the photos, the text against `history --json`; the sheet's QR by zxing-cpp; the sheet coming back
as a photo."""
import argparse, collections, json, logging, pathlib, re, subprocess, sys, tempfile
import pdfplumber, zxingcpp
import made
from checks import Checks, text_of
from page import CUTS, content_of, cut_pages, ready
from wire import Chromium

SIZES = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}
MM = 72 / 25.4
# @page of the style: 13 mm at the top, 12 mm at the sides, 16 mm at the foot.
TOP, SIDE, FOOT = 13 * MM, 12 * MM, 16 * MM
# Fonts of charts have no box in Chromium's PDF; nothing here uses one.
logging.getLogger("pdfminer").setLevel(logging.ERROR)
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def words_of(text):
    """Words, taken apart at hyphens too, where a line may end."""
    return collections.Counter(re.sub(r"[\s\u00a0-]+", " ", text).split())


def within(row, sheet):
    return all(sheet[word] >= many for word, many in row.items())


def short_day(iso):
    year, month, day = iso.split("-")
    return f"{int(day)} {MONTHS[int(month) - 1]} {year}"


def grey(colour):
    """Numbers of a colour alike; a pattern has a name instead, and is drawn with lines of its own."""
    if colour is None or isinstance(colour, (int, float, str)) or len(colour) == 1 or not all(isinstance(part, (int, float)) for part in colour):
        return True
    return len(colour) == 3 and max(colour) - min(colour) < 0.01


def printed(page, file, to, size):
    page.open(file)
    page.js(ready)
    page.pdf(to, *SIZES[size])
    return pdfplumber.open(to)


def sheets(check, page, file, to, size, what, content):
    """Page by page. Returns the words of each page."""
    pdf = printed(page, file, to, size)
    page.call("Emulation.setEmulatedMedia", media="print")
    # Words for screen readers are not on paper.
    page.js("document.querySelectorAll('.v').forEach(e => { e.style.display = 'none' })")
    rows = page.js("[...document.querySelectorAll('tbody tr')].filter(r => r.checkVisibility()).map(r => r.innerText)")
    images = page.js("[...document.images].filter(i => i.checkVisibility()).length")
    page.call("Emulation.setEmulatedMedia", media="")
    code = content["proof"]["codes"][-1]["code"] if content["proof"]["codes"] else "no proof code"
    many = len(pdf.pages)
    all_words, drawn = [], 0
    for number, sheet in enumerate(pdf.pages, 1):
        text = sheet.extract_text() or ""
        all_words.append(words_of(text))
        foot = text.splitlines()[-1] if text else ""
        check(f"page {number} of {many}" in foot and content["registration"] in foot and code in foot,
              f"{what}, page {number}: foot with number, registration and proof code", foot)
        cut = [(round(i["x0"]), round(i["top"]), round(i["x1"]), round(i["bottom"])) for i in sheet.images
               if i["top"] < TOP - 2 or i["bottom"] > sheet.height - FOOT + 2 or i["x0"] < SIDE - 2 or i["x1"] > sheet.width - SIDE + 2]
        check(not cut, f"{what}, page {number}: no photo is cut", str(cut))
        drawn += len(sheet.images)
        beyond = [c["text"] for c in sheet.chars if c["x1"] > sheet.width - SIDE + 2 or c["x0"] < SIDE - 2]
        check(not beyond, f"{what}, page {number}: no text runs off the sheet", "".join(beyond[:60]))
        coloured = {str(c["non_stroking_color"]) for c in sheet.chars if not grey(c["non_stroking_color"])} \
            | {str(o.get("stroking_color")) for o in sheet.lines + sheet.rects + sheet.curves if not grey(o.get("stroking_color"))}
        check(not coloured, f"{what}, page {number}: grey beside the photos", str(coloured))
    check(drawn == images, f"{what}: every photo once", f"{drawn} drawn, {images} in the page")
    torn = [row for row in rows if not any(within({w: n for w, n in words_of(row).items() if len(w) < 20}, sheet) for sheet in all_words)]
    check(rows and not torn, f"{what}: each row of a table stands on one page", str(torn[:2]))
    return pdf, all_words


def against_history(check, history, pages):
    """What the page prints is what the history says, sighting by sighting."""
    told = 0
    for found in history["findings"]:
        for seen in found["sightings"]:
            told += 1
            row = words_of(f"{short_day(seen['date'])} {seen['by']} {seen['hours'] or ''} {seen['says']}")
            if not any(within(row, sheet) for sheet in pages):
                check(False, "the PDF says what the history says", f"{found['short']} {seen['date']}: {row}")
        whole = sum(pages, collections.Counter())
        check(within(words_of(found["short"]), whole), f"the PDF names {found['short']}")
    for zone in history["zones"]:
        row = words_of(f"{zone['code']} {zone['name']}")
        check(any(within(row, sheet) for sheet in pages), f"the PDF names zone {zone['code']}")
    check(told > 10, "sightings were compared", str(told))


def the_sheet(check, page, file, folder, content, windows_file):
    for size in SIZES:
        pdf = printed(page, file, folder / f"sheet-{size}.pdf", size)
        check(len(pdf.pages) == 2, f"the sheet is a front and a back on {size}", f"{len(pdf.pages)} pages")
        front, back = (text_of(sheet.extract_text()) for sheet in (pdf.pages[0], pdf.pages[-1]))
        for head in ("Found", "Done", "Reference", "Initials", "not an approval for return to service", content["serial"], content["total_time"],
                     "Not looked at, ever", content["proof"]["codes"][-1]["code"]):
            check(text_of(head) in front, f"the sheet's front has: {head}")
        words = words_of(pdf.pages[0].extract_text())
        for item in (item for item in content["findings"] if item["open"]):
            check(within(words_of(f"{item['number']} {item['short']} {item['place']} {item['title']} {short_day(item['earliest']['date'])}"), words + collections.Counter({w.rstrip(':;,'): n for w, n in words.items()})),
                  f"the sheet's front has item {item['number']}", item["place"])
            check(text_of(f"At {content['total_time']} h total time: {item['place']}: {item['title']}") in back, f"three lines for a logbook for item {item['number']}")
        check(len(pdf.pages[0].images) == min(6, sum(bool(i["photos"]) for i in content["findings"] if i["open"])), "six best photos on the front", str(len(pdf.pages[0].images)))
        check("notanentry" in back.lower(), "the logbook text is labelled as not an entry")
        check(back.count(text_of("Action: ____")) == sum(i["open"] for i in content["findings"]), "each with its line to fill in")
        # ISO/IEC 18004, read by zxing-cpp from the paper at 200 dpi.
        picture = pdf.pages[0].to_image(resolution=200).original
        read = [code.text for code in zxingcpp.read_barcodes(picture)]
        check(read == [content["proof"]["codes"][-1]["code"]], "the sheet's QR reads as its proof code", str(read))
    picture.save(folder / "sheet.png")
    check("growth window" not in windows_file.read_text().lower(), "no growth window on the sheet, even asked for")


def comes_back(check, page, program, folder):
    """A filled sheet, photographed: several findings are settled and each cites the picture."""
    book = made.Book(program, folder / "settled", author="Jonas Tide", role="mechanic")
    book("aircraft", "add", "N0BACK", "--type", "low wing", "--layout", "low_wing_fixed")
    book("walkaround", "start", "--purpose", "before_maintenance", "--hours", "100", check=False)
    for zone in ("550", "620", "310"):
        book("finding", "open", "--zone", zone, "--condition", "crack", "--measure", "length 10 mm +-0.3 by ruler")
    shorts = [item["short"] for item in book.findings()]
    photo = folder / "sheet.png"
    book("paper", photo, "--kind", "list", "--settles", f"{shorts[0]}=stop-drilled; by Jonas Tide; reference WO 12", "--settles", f"{shorts[1]}=replaced; by Jonas Tide; reference WO 13")
    after = {item["short"]: item for item in book.findings()}
    for short in shorts[:2]:
        closed = [step for step in after[short]["steps"] if step["kind"] == "closed"]
        check(not after[short]["open"] and closed and closed[0]["shown_by"].startswith("sheet.png"), "a returned sheet settles a finding, citing the picture", str(closed))
    check(after[shorts[2]]["open"], "and leaves open what nobody wrote about")
    page.open(book.report(folder / "settled.html"))
    page.js(ready)
    text = page.js("document.body.innerText").replace("\xa0", " ")
    check(text.count("shown by sheet.png") == 2 and "no maintenance entry" in text, "the page says so")
    check(page.js("[...document.querySelectorAll('figure img')].some(i => i.naturalWidth > 100)"), "and shows the filled sheet")


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--bin", required=True)
    asked.add_argument("--demo", required=True)
    asked.add_argument("--pages", help="where the PDF files stay, to be looked at")
    asked = asked.parse_args()
    program = str(pathlib.Path(asked.bin).resolve())
    notebook = pathlib.Path(asked.demo) / "buyer"
    check = Checks()
    with tempfile.TemporaryDirectory() as folder, Chromium() as chromium:
        folder = pathlib.Path(folder)
        kept = pathlib.Path(asked.pages) if asked.pages else folder
        kept.mkdir(parents=True, exist_ok=True)
        content = content_of(program, notebook)
        pages = cut_pages(program, notebook, folder, content["findings"][0]["short"])
        history = json.loads(subprocess.run([program, "-C", notebook, "--json", "history"], check=True, capture_output=True, text=True).stdout)
        page = chromium.page()
        page.screen(1440)
        for cut in CUTS:
            for size in SIZES:
                _, words = sheets(check, page, pages[cut], kept / f"{cut}-{size}.pdf", size, f"{cut} on {size}", content)
                if cut == "whole":
                    against_history(check, history, words)
        # Printed without script it is the same paper.
        page.script(False)
        bare = printed(page, pages["whole"], kept / "without-script.pdf", "A4")
        page.script(True)
        same = printed(page, pages["whole"], kept / "with-script.pdf", "A4")
        check([text_of(p.extract_text()) for p in bare.pages] == [text_of(p.extract_text()) for p in same.pages], "without script it prints the same")
        windows = folder / "windows.html"
        subprocess.run([program, "-C", notebook, "report", "--cut", "sheet", "--windows", "--out", windows], check=True, capture_output=True)
        the_sheet(check, page, pages["sheet"], folder, content, windows)
        comes_back(check, page, program, folder)
        # Eighty zones by forty walkarounds: each page of the table has its heads.
        made.many(program, folder / "many")
        file = folder / "many.html"
        subprocess.run([program, "-C", folder / "many", "report", "--out", file], check=True, capture_output=True)
        many = content_of(program, folder / "many")
        pdf, words = sheets(check, page, file, kept / "many.pdf", "A4", "eighty zones by forty walkarounds", many)
        of_grid = [n for n, sheet in enumerate(pdf.pages) if sum(f"{zone['code']} {zone['name'].split()[0]}" in (sheet.extract_text() or "") for zone in many["zones"]) > 20 and words[n]["–"] > 20]
        hours = [walk["hours"] for walk in many["walkarounds"]]
        bare_pages = [n + 1 for n in of_grid if "Zone" not in words[n] or sum(words[n][total] > 0 for total in hours) < 4]
        check(len(of_grid) >= 4 and not bare_pages, "the table of zones has its heads on each page", f"{len(of_grid)} pages, without: {bare_pages}")
        # A sheet for fifteen open items still is one front and one back.
        subprocess.run([program, "-C", folder / "many", "report", "--cut", "sheet", "--out", file], check=True, capture_output=True)
        for size in SIZES:
            pdf = printed(page, file, kept / f"many-sheet-{size}.pdf", size)
            check(len(pdf.pages) == 2 and "more open items do not fit here" in pdf.pages[0].extract_text(), f"a sheet with too many items says so and keeps to its two pages on {size}", f"{len(pdf.pages)} pages")
    sys.exit(check.end())


if __name__ == "__main__":
    main()
