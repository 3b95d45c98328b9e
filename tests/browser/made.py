"""Notebooks for the checks, made through the command line as a person would. All of it is invented."""
import json, pathlib, subprocess

# Text that ends whatever it stands in, if anything can: elements, attributes, CSS strings, comments.
EVIL = "<img data-evil src=x onerror=\"window.evil=1\">&'\"</style></script><!--<svg/onload=evil()>{{7*7}}`${1}"


class Book:
    def __init__(self, program, folder, author="Ada Ventner", role="owner"):
        self.program, self.folder, self.clock = str(pathlib.Path(program).resolve()), str(folder), "2025-03-01T09:00:00+01:00"
        self("init", self.folder, "--author", author, "--role", role, at_home=False)

    def __call__(self, *words, at_home=True, check=True):
        home = ["-C", self.folder] if at_home else []
        ran = subprocess.run([self.program, *home, "--now", self.clock, "--json", *map(str, words)], capture_output=True, text=True)
        if check and ran.returncode:
            raise SystemExit(f"{words} failed: {ran.stderr or ran.stdout}")
        return json.loads(ran.stdout) if ran.stdout.strip() else None

    def report(self, to, *words):
        self("report", "--out", to, *words)
        return pathlib.Path(to)

    def findings(self):
        text = subprocess.run([self.program, "-C", self.folder, "report", "--form", "json", "--out", "-"], capture_output=True, text=True, check=True).stdout
        return json.loads(text)["findings"]


def evil(program, folder):
    """Markup in every text that a person can type."""
    book = Book(program, folder, author="Eve " + EVIL, role="owner " + EVIL)
    book("aircraft", "add", "N0EV", "--type", "type " + EVIL, "--serial", "S" + EVIL, "--layout", "low_wing_fixed")
    book("walkaround", "start", "--purpose", "routine", "--hours", "100")
    book("finding", "open", "--zone", "550", "--condition", "crack", "--part", EVIL, "--unsure", EVIL, "--text", EVIL,
         "--measure", "length 10 mm +-0.3 by ruler")
    short = book.findings()[0]["short"]
    book("told", short, EVIL)
    book("defer", short, "--by", EVIL, "--on", EVIL, "--until", EVIL)
    book("finding", "treat", short, "--how", "dressed", "--by", EVIL)
    book("concern", short, "ask")
    book("limit", short, "25 mm", "--source", EVIL)
    book("note", EVIL, "--finding", short)
    book("look", "110", "--not-seen", EVIL)
    book("reading", "oil_found", "6.5 qt", "--with", f"note={EVIL}", check=False)
    name = pathlib.Path(folder).parent / "<b data-evil>&\"'.txt"
    name.write_text("a paper")
    book("paper", name, "--kind", "log_page", "--settles", f"{short}={EVIL}; by {EVIL.replace(';', ',')}")
    book("walkaround", "finish")
    return book


def growing(program, folder):
    """A crack in a fairing measured four times, with a limit that a person set."""
    book = Book(program, folder)
    book("aircraft", "add", "N0GROW", "--type", "low wing", "--layout", "low_wing_fixed")
    for at, size in enumerate(("10", "13", "16.5", "20.5")):
        book.clock = f"2025-0{at + 1}-05T09:00:00+01:00"
        book("walkaround", "start", "--purpose", "routine", "--hours", str(100 + 20 * at))
        if at == 0:
            book("finding", "open", "--zone", "733", "--condition", "crack", "--measure", f"length {size} mm +-0.3 by ruler")
            book("limit", book.findings()[0]["short"], "30 mm", "--source", "manual 51-10")
        else:
            book("finding", "sight", book.findings()[0]["short"], "--measure", f"length {size} mm +-0.3 by ruler")
        book("walkaround", "finish")
    return book


def many(program, folder, walks=40):
    """Every zone of a layout of more than sixty, by forty walkarounds; fifteen open findings."""
    book = Book(program, folder)
    book("aircraft", "add", "N0MANY", "--type", "low wing", "--serial", "S-40", "--layout", "low_wing_fixed")
    zones = [zone["code"] for zone in json.loads(pathlib.Path(book.report(pathlib.Path(folder).parent / "zones.json")).read_text())["zones"]]
    for at in range(walks):
        book.clock = f"20{25 + at // 12}-{at % 12 + 1:02}-0{at % 7 + 1}T09:00:00+01:00"
        book("walkaround", "start", "--purpose", "routine", "--hours", f"{100 + at * 2.5:.1f}", "--landings", str(300 + at * 4))
        if at == 0:
            for number, zone in enumerate(zones[4:64:4]):
                book("finding", "open", "--zone", zone, "--condition", "crack", "--part", f"place number {number}",
                     "--measure", f"length {10 + number} mm +-0.3 by ruler")
        else:
            for item in book.findings()[:: 5 + at % 3]:
                size = 10 + at * 0.8
                book("finding", "sight", item["short"], "--measure", f"length {size:.1f} mm +-0.3 by ruler")
        book("look", *zones[at % 3 :: 3], "--nothing-found", check=False)
        book("look", zones[1 + at % 5], "--not-seen", "cover on", check=False)
        book("walkaround", "finish")
    return book


def photos(program, folder, many=500):
    """Five hundred photographs of twenty-five findings: noise with a shape in it, the size of a phone's preview."""
    import numpy
    from PIL import Image, ImageDraw, ImageFilter
    book = Book(program, folder)
    book("aircraft", "add", "N0PIX", "--type", "low wing", "--layout", "low_wing_fixed")
    taken = pathlib.Path(folder).parent / "taken"
    taken.mkdir()
    random = numpy.random.default_rng(9)
    book("walkaround", "start", "--purpose", "routine", "--hours", "100")
    zones = [zone["code"] for zone in json.loads(pathlib.Path(book.report(pathlib.Path(folder).parent / "zones500.json")).read_text())["zones"]]
    each = many // 25
    for number in range(25):
        book("finding", "open", "--zone", zones[number * 3], "--condition", "crack", "--part", f"place number {number}",
             "--measure", f"length {10 + number} mm +-0.3 by ruler")
    shorts = {item["zone"]: item["short"] for item in book.findings()}
    for number in range(25):
        files = []
        for turn in range(each):
            # Grain that JPEG cannot make cheap, as in a photograph in poor light.
            grain = random.integers(60, 200, (300, 400, 3), dtype=numpy.uint8)
            picture = Image.fromarray(grain).filter(ImageFilter.GaussianBlur(1.2)).resize((1600, 1200))
            ImageDraw.Draw(picture).line([(300, 300 + 10 * turn), (900, 620 + 6 * number)], fill=(20, 20, 20), width=5)
            files.append(taken / f"IMG_{number:02}_{turn:02}.jpg")
            picture.save(files[-1], quality=80)
        book("photo", *files, "--finding", shorts[zones[number * 3]])
        for file in files:
            file.unlink()
    book("walkaround", "finish")
    return book
