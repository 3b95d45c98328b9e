"""Usage: forms.py --bin PROGRAM --demo FOLDER
Each form of a report read back by somebody else's program: HTML by the Nu checker (npm), CSV by
Python's csv, Markdown by a CommonMark library (markdown-it-py, PyPI), JSON by its schema
(jsonschema, PyPI), QR by zxing-cpp (PyPI); a pack's links followed; five hundred photos weighed."""
import argparse, base64, csv, hashlib, html.parser, io, json, pathlib, re, shutil, subprocess, sys, tempfile, urllib.parse
import jsonschema, zxingcpp
from markdown_it import MarkdownIt
import made
from checks import Checks, text_of
from page import CUTS, content_of, cut_pages, ready
from wire import Chromium

HERE = pathlib.Path(__file__).resolve().parent
# Core's budget for photos as they stand in a page (core/src/report/pictures.rs), and what text and drawings come to.
MOST_PHOTOS, MOST_WORDS = 18 << 20, 3 << 20


def valid_html(check, pages):
    jar = HERE / "node_modules/vnu-jar/build/dist/vnu.jar"
    ran = subprocess.run(["java", "-jar", jar, "--format", "json", "--errors-only", *pages], capture_output=True, text=True)
    said = json.loads(ran.stderr)["messages"]
    check(not said, f"the Nu checker finds no error in {len(pages)} pages", str([(pathlib.Path(m["url"]).name, m["message"]) for m in said[:5]]))
    with tempfile.NamedTemporaryFile("w", suffix=".html") as wrong:
        wrong.write("<!doctype html><title>t</title><p><table><tr><td></p></table><img>")
        wrong.flush()
        ran = subprocess.run(["java", "-jar", jar, "--format", "json", "--errors-only", wrong.name], capture_output=True, text=True)
        check(len(json.loads(ran.stderr)["messages"]) > 1, "and finds those of a wrong page")


def form(program, notebook, name, *words):
    return subprocess.run([program, "-C", notebook, "report", "--form", name, "--out", "-", *words], check=True, capture_output=True).stdout.decode()


def table(check, program, notebook, content, what):
    rows = list(csv.DictReader(io.StringIO(form(program, notebook, "csv"), newline=""), strict=True))
    check(all(None not in row and None not in row.values() for row in rows), f"{what}: each row of the table has its columns")
    tamed = lambda text: "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
    wanted = [(item["short"], tamed(seen["date"]), tamed(seen["by"]), seen["result"], tamed(seen["says"]), seen["line"]) for item in content["findings"] for seen in item["sightings"]]
    got = [tuple(row[key] for key in ("finding", "date", "by", "result", "says", "line")) for row in rows if row["kind"] == "sighting"]
    check(got == wanted and got, f"{what}: the table has each sighting as the JSON has it", f"{len(got)} of {len(wanted)}")
    looks = sum(row["kind"] == "look" for row in rows)
    check(looks == sum(len(zone["looks"]) for zone in content["zones"]), f"{what}: and each look", str(looks))


class Seen(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.elements, self.words = [], []

    def handle_starttag(self, tag, attributes):
        self.elements.append(tag)

    def handle_data(self, data):
        self.words.append(data)


def markdown(check, program, notebook, content, what):
    source = form(program, notebook, "md")
    shown = MarkdownIt("commonmark").enable("table").render(source)
    seen = Seen()
    seen.feed(shown)
    allowed = {"h1", "h2", "h3", "p", "blockquote", "table", "thead", "tbody", "tr", "th", "td", "ul", "li", "strong", "em", "code"}
    check(set(seen.elements) <= allowed, f"{what}: Markdown makes no element but its own", str(set(seen.elements) - allowed))
    words = text_of("".join(seen.words))
    for item in content["findings"]:
        missing = [text for text in [item["short"], item["place"], item["title"], *[s["says"] for s in item["sightings"]]] if text_of(text) not in words]
        check(not missing, f"{what}: Markdown says the same of {item['short']}", str(missing[:2]))
    check(all(text_of(notice) in words for notice in content["notices"]), f"{what}: Markdown carries the cautions")
    cells = [len(row.split("</td>")) for row in shown.split("<tr>") if "<td>" in row or "<td " in row]
    check(cells and seen.elements.count("table") >= 1, f"{what}: its tables are tables")


def message(check, program, notebook, content):
    text = form(program, notebook, "text")
    check(len(text) < 1600 and text.count("\n") < 20, "the message is short", f"{len(text)} characters")
    check(content["registration"] in text and content["findings"][0]["place"] in text and "not \"nothing found\"" in text.replace("“", '"').replace("”", '"'), "and says the worst, and what not looked at means")
    check("No maintenance record, release or approval" in text, "and what it is not")


def schema(check, program, notebook, finding, what):
    rules = json.loads((HERE.parent / "schemas/report.json").read_text())
    jsonschema.Draft202012Validator.check_schema(rules)
    held = jsonschema.Draft202012Validator(rules, format_checker=jsonschema.FormatChecker())
    for cut in CUTS:
        words = ["--cut", *(["finding", finding] if cut == "finding" else [cut]), "--windows"]
        faults = [f"{list(error.absolute_path)}: {error.message[:120]}" for error in held.iter_errors(content_of(program, notebook, *words))]
        check(not faults, f"{what}, {cut}: the JSON is as its schema says", "; ".join(faults[:3]))
    broken = content_of(program, notebook)
    broken["findings"][0]["change"] = "grown"
    check(not held.is_valid(broken), "the schema refuses another word")


def windows(check, program, folder):
    notebook = folder / "growing"
    made.growing(program, notebook)
    for cut in ("whole", "review", "sheet"):
        for asked in (False, True):
            file = folder / "windows.html"
            subprocess.run([program, "-C", notebook, "report", "--cut", cut, "--out", file, *(["--windows"] if asked else [])], check=True, capture_output=True)
            there = "growth window" in file.read_text().lower().replace("\xa0", " ")
            check(there == (asked and cut != "sheet"), f"growth windows on {cut}, {'asked for' if asked else 'not asked for'}", str(there))


def cautions(check, pages):
    for cut, file in pages.items():
        text = file.read_text()
        check("not a maintenance record" in text or "no maintenance record" in text, f"{cut}: says that it is no maintenance record")
        check("manual comes first" in text and ("licensed mechanic" in text or cut == "sheet"), f"{cut}: says who decides")
        policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)[1]
        check("unsafe" not in policy and "default-src 'none'" in policy, f"{cut}: a strict policy", policy)
        check(not re.search(r"<[^>]*\s(on[a-z]+|style)=", re.sub(r"<script>.*?</script>", "", text, flags=re.S)), f"{cut}: no handler and no style in an element")


def codes(check, page, file, content):
    """Each QR of the page, from the screen."""
    page.screen(1440, scale=2)
    page.open(file)
    count = page.js("[...document.querySelectorAll('.qr svg')].map((e, n) => e.setAttribute('data-qr', n)).length")
    from PIL import Image
    read = []
    with tempfile.NamedTemporaryFile(suffix=".png") as picture:
        for number in range(count):
            page.part(picture.name, f"[data-qr='{number}']", spare=4, scale=2)
            read += [code.text for code in zxingcpp.read_barcodes(Image.open(picture.name))]
    wanted = [code["code"] for code in reversed(content["proof"]["codes"])][:6]
    check(read == wanted and read, "each QR reads as the proof code beside it", f"{read} {wanted}")
    # RFC 4648 section 6 and FIPS 180-4, by Python's own: the code is of the line it names.
    for code in content["proof"]["codes"]:
        check(base64.b32encode(bytes.fromhex(code["finish"])[:20]).decode() == code["code"].replace(" ", "")[:32], "a proof code is 160 bits of its finish")


def pack(check, program, notebook, folder, page):
    bag = folder / "bag"
    subprocess.run([program, "-C", shutil.copytree(notebook, folder / "packing"), "pack", "--out", bag], check=True, capture_output=True)
    if bag.is_file() or not (bag / "data").exists():
        raise SystemExit(f"no folder was packed: {list(folder.iterdir())}")
    report = bag / "data/report/index.html"
    links = re.findall(r'href="(\.\./[^"]+)"', report.read_text())
    wrong = []
    for link in set(links):
        target = (report.parent / urllib.parse.unquote(link)).resolve()
        if not target.is_file() or not target.name.startswith(hashlib.sha256(target.read_bytes()).hexdigest()):
            wrong.append(link)
    check(len(set(links)) >= 10 and not wrong, "each link of a packed page leads to the whole original", f"{len(set(links))} links, wrong: {wrong[:2]}")
    page.open(report)
    check(page.js(ready) > 10, "and the page opens from the pack")


def weight(check, program, folder):
    made.photos(program, folder / "five-hundred")
    file = folder / "five-hundred.html"
    subprocess.run([program, "-C", folder / "five-hundred", "report", "--out", file], check=True, capture_output=True)
    text = file.read_text()
    pictures = sum(map(len, re.findall(r'src="(data:[^"]*)"', text)))
    words = len(text) - pictures
    print(f"500 photos: {len(text) / 1e6:.1f} MB, {pictures / 1e6:.1f} MB of it photos")
    check(pictures <= MOST_PHOTOS and words <= MOST_WORDS, "a page of 500 photos keeps to its size", f"{pictures} + {words} bytes")
    check(text.count('class="photo') >= 500, "and tells of each of them", str(text.count('class="photo')))


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--bin", required=True)
    asked.add_argument("--demo", required=True)
    asked = asked.parse_args()
    program = str(pathlib.Path(asked.bin).resolve())
    notebook = pathlib.Path(asked.demo) / "buyer"
    check = Checks()
    with tempfile.TemporaryDirectory() as folder, Chromium() as chromium:
        folder = pathlib.Path(folder)
        content = content_of(program, notebook)
        finding = content["findings"][0]["short"]
        pages = cut_pages(program, notebook, folder, finding)
        (folder / "evil").mkdir()
        made.evil(program, folder / "evil/book")
        evil = content_of(program, folder / "evil/book")
        evil_pages = cut_pages(program, folder / "evil/book", folder / "evil", evil["findings"][0]["short"])
        valid_html(check, [*pages.values(), *evil_pages.values()])
        for book, said, what in ((notebook, content, "demo"), (folder / "evil/book", evil, "markup")):
            table(check, program, book, said, what)
            markdown(check, program, book, said, what)
            schema(check, program, book, said["findings"][0]["short"], what)
        message(check, program, notebook, content)
        windows(check, program, folder)
        cautions(check, pages)
        page = chromium.page()
        codes(check, page, pages["whole"], content)
        pack(check, program, notebook, folder, page)
        weight(check, program, folder)
    sys.exit(check.end())


if __name__ == "__main__":
    main()
