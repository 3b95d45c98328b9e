"""Usage: page.py --bin PROGRAM --demo FOLDER [--shots FOLDER]
The report page in Chromium and Firefox: what it says first, at three widths, dark and light, without
script, enlarged, by keyboard alone, with nothing leaving it. axe-core (npm) is the outside judge of
what keeps people out; WCAG 2.2 is named where a rule of it is measured here."""
import argparse, json, pathlib, socket, subprocess, sys, tempfile, threading
import made
from checks import Checks
from wire import Chromium, Firefox

HERE = pathlib.Path(__file__).resolve().parent
CUTS = ["whole", "finding", "review", "baseline", "sheet", "handing-over"]
WIDTHS = (360, 768, 1440)
ready = "Promise.all([...document.images].map(i => i.decode().catch(() => 0))).then(() => document.images.length)"


def cut_pages(program, notebook, to, finding):
    pages = {}
    for cut in CUTS:
        words = ["finding", finding] if cut == "finding" else [cut]
        pages[cut] = to / f"{cut}.html"
        subprocess.run([program, "-C", notebook, "report", "--cut", *words, "--out", pages[cut]], check=True, capture_output=True)
    return pages


def content_of(program, notebook, *words):
    return json.loads(subprocess.run([program, "-C", notebook, "report", "--form", "json", "--out", "-", *words],
                                     check=True, capture_output=True, text=True).stdout)


def looks(check, page, pages, shots):
    """Every cut at every width, dark and light."""
    axe = (HERE / "node_modules/axe-core/axe.min.js").read_text()
    for cut, file in pages.items():
        for width in WIDTHS:
            for dark in (False, True):
                page.screen(width, dark=dark)
                page.open(file)
                page.js(ready)
                what = f"{cut} at {width} px, {'dark' if dark else 'light'}"
                wide = page.js("document.scrollingElement.scrollWidth")
                check(wide <= width, f"{what}: nothing wider than the screen", f"{wide} px")
                page.js(axe + ";0")
                # Every rule that axe ships for WCAG 2.0 to 2.2 A and AA, and its best practices.
                found = page.js("axe.run(document, {resultTypes: ['violations']}).then(r => r.violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(' | ')))")
                check(not found, f"{what}: axe-core finds nothing", "; ".join(found))
                page.shot(shots / f"{cut}-{width}-{'dark' if dark else 'light'}.png")
        if cut == "whole":
            # The judge itself is looked at: a picture without words must be found.
            page.js("document.querySelector('img').removeAttribute('alt')")
            found = page.js("axe.run(document, {resultTypes: ['violations']}).then(r => r.violations.map(v => v.id))")
            check("image-alt" in found, "axe-core finds a picture without words", str(found))
        # 200 % (WCAG 1.4.4) and 400 % of 1280 px (WCAG 1.4.10, reflow): half and a quarter of the width.
        for width, times in ((640, 2), (320, 4)):
            page.screen(width, 450, scale=times)
            page.open(file)
            wide = page.js("document.scrollingElement.scrollWidth")
            check(wide <= width, f"{cut} at {times * 100} %: nothing wider than the screen", f"{wide} px of {width}")
            hidden = page.js("""[...document.querySelectorAll('h2, p, td, li, figcaption')].filter(e => e.checkVisibility() && !e.closest('.v, .wide, svg')
                && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline').map(e => e.textContent.slice(0, 40))""")
            check(not hidden, f"{cut} at {times * 100} %: no text is cut off", str(hidden[:3]))


def first_screen(check, page, file, content):
    """What a tired mechanic sees before he scrolls."""
    page.screen(1440, 900)
    page.open(file)
    page.js(ready)
    seen = page.js("""(() => { const out = []; const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        while (walk.nextNode()) { const n = walk.currentNode, r = document.createRange(); r.selectNodeContents(n);
          const b = r.getBoundingClientRect(); if (n.textContent.trim() && b.bottom > 0 && b.bottom <= innerHeight && b.width && !n.parentElement.closest('script,style,dialog')) out.push(n.textContent); }
        return out.join(' '); })()""").replace("\xa0", " ")
    worse = [item for item in content["findings"] if item["open"] and item["change"] == "worse"]
    first = worse[0]
    for what, words in {
        "the registration": content["registration"], "the serial": content["serial"], "the total time": content["total_time"],
        "what is worse": first["place"], "by how much": worse[2]["says"].split("since")[0].removeprefix("worse ").strip(),
        "since when": "21 Jun 2025", "by whom": first["earliest"]["by"], "at what total time": f"at {first['sightings'][0]['hours']} h",
        "what is new": "New", "what nobody has looked at": "Nobody has looked at",
        "how much that is": f"{sum(zone['last'] is None for zone in content['zones'])} of {len(content['zones'])} zones",
    }.items():
        check(words in seen, f"the first screen says {what}", f"{words!r} is not in {seen[:1500]!r}")
    photo = page.js("document.querySelector('.worst img').getBoundingClientRect().bottom")
    chart = page.js("document.querySelector('.worst .chart').getBoundingClientRect().bottom")
    check(photo <= 900 and chart <= 900, "the worst finding's last photo and its growth are on the first screen at 1440 px", f"{photo} {chart}")
    page.screen(360, 800)
    page.open(file)
    page.js("document.querySelector('.answers a[href^=\"#f\"]').click()")
    page.js("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    tops = page.js("[...document.querySelectorAll('article:target .chart, article:target .pair img')].map(e => e.getBoundingClientRect().top)")
    check(tops and min(tops) < 1600 and len(tops) >= 3, "on a small screen one press and one scroll show its photos and growth", str(tops))


def without_script(check, page, file):
    page.screen(1440)
    page.open(file)
    with_script = page.js("[...document.querySelectorAll('main')].map(e => { const c = e.cloneNode(true); c.querySelectorAll('.press, .tools, #zone-said, dialog').forEach(x => x.remove()); return c.textContent }).join('')")
    page.script(False)
    page.open(file)
    page.js(ready)
    text = page.js("document.querySelector('main').textContent")
    check(page.js("document.querySelectorAll('button, select, dialog').length") == 0, "without script there is no control that does nothing")
    check(text == with_script, "without script the page says the same")
    hidden = page.js("[...document.querySelectorAll('main p, main td, main li, main article, main h3, main img')].filter(e => !e.closest('.under') && !e.checkVisibility()).length")
    check(hidden == 0, "without script nothing is hidden but the older photo's second copy", str(hidden))
    check(page.js("[...document.images].every(i => i.closest('.under') || i.naturalWidth > 0)"), "without script every photo is there")
    page.script(True)


def filters(check, page, file, content):
    """Each filter by keyboard, compared with the JSON of the same report."""
    page.screen(1440)
    page.open(file)
    findings = content["findings"]

    def choose(name, value):
        page.js(f"document.querySelector('select[name={name}]').focus()")
        options = page.js(f"[...document.querySelector('select[name={name}]').options].map(o => o.value)")
        page.key("Home")
        for _ in range(options.index(value)):
            page.key("ArrowDown")
        return page.js("[...document.querySelectorAll('article[data-zone]')].filter(a => a.checkVisibility()).length"), page.js("document.querySelector('.tools output').textContent")

    one = findings[2]
    for name, value, expected in (
        ("zone", one["zone"], [f for f in findings if f["zone"] == one["zone"]]),
        ("chapter", one["chapters"][0], [f for f in findings if one["chapters"][0] in f["chapters"]]),
        ("concern", "ask", [f for f in findings if f["concern"] == "ask"]),
        ("since", "2026-05-09", [f for f in findings if f["last_seen"] and f["last_seen"]["date"] >= "2026-05-09"]),
    ):
        shown, said = choose(name, value)
        check(shown == len(expected) and 0 < shown < len(findings), f"filter by {name}: the findings that fit and no others", f"{shown} shown, {len(expected)} fit")
        check(said == f"{shown} of {len(findings)} findings shown", f"filter by {name} says how many", said)
        page.js("document.querySelector('.tools button').focus()")
        page.key("Enter")
        check(page.js("[...document.querySelectorAll('article[data-zone]')].every(a => a.checkVisibility())"), f"show all after {name}")


def keyboard(check, page, file):
    """Tab alone reaches everything that can be pressed; each shows where it is (WCAG 2.1.1, 2.4.7)."""
    page.screen(1440)
    page.open(file)
    page.js(ready)
    wanted = page.js("""(() => { let n = 0; for (const e of document.querySelectorAll('a[href], button, select, [tabindex="0"]')) if (e.checkVisibility()) e.dataset.wanted = n++; return n })()""")
    reached, unseen = set(), []
    for _ in range(wanted + 40):
        page.key("Tab")
        got = page.js("""(() => { const e = document.activeElement, s = getComputedStyle(e);
            return [e.dataset.wanted, s.outlineStyle, parseFloat(s.outlineWidth), (e.getAttribute('aria-label') || e.textContent).slice(0, 40)] })()""")
        if got[0] is None:
            continue
        reached.add(got[0])
        if got[1] == "none" or got[2] < 2:
            unseen.append(got[3])
    check(len(reached) == wanted, "Tab reaches everything that can be pressed", f"{len(reached)} of {wanted}")
    check(not unseen, "where the keyboard is can be seen", str(unseen[:4]))

    page.js("document.querySelector('.flick + .press button, .newer .press button').focus()")
    page.key("Enter")
    laid = page.js("""(() => { const u = document.querySelector('.under'), a = u.querySelector('img').getBoundingClientRect(), b = u.parentElement.querySelector('img').getBoundingClientRect();
        return [u.checkVisibility(), Math.abs(a.x - b.x) + Math.abs(a.y - b.y) + Math.abs(a.width - b.width), document.activeElement.getAttribute('aria-pressed')] })()""")
    check(laid[0] and laid[1] < 1 and laid[2] == "true", "pressed, the older photo lies in place of the newer", str(laid))
    page.key("Enter")
    check(not page.js("document.querySelector('.under').checkVisibility()"), "pressed again, the newer is back")

    zoom = "[...document.querySelectorAll('.newer .press button')].find(b => b.textContent === 'Zoom')"
    page.js(f"{zoom}.focus()")
    page.key("Enter")
    width = "document.querySelector('dialog .frame').getBoundingClientRect().width"
    before = page.js(width)
    page.key("+")
    page.key("+")
    after = page.js(width)
    page.key("ArrowRight")
    page.key("ArrowDown")
    page.js("new Promise(done => setTimeout(done, 400))")
    moved = page.js("document.querySelector('dialog .stage').scrollLeft + document.querySelector('dialog .stage').scrollTop")
    check(after > before * 1.8 and moved > 0, "zoom: larger by +, moved by arrows", f"{before} {after} {moved}")
    page.key("0")
    check(abs(page.js(width) - before) < 1, "zoom: 0 shows the whole")
    page.key("Escape")
    check(page.js(f"!document.querySelector('dialog').open && document.activeElement === {zoom}"), "Escape closes it and gives the place back")

    page.js("document.querySelector('.drawing [tabindex]').focus()")
    said = page.js("document.querySelector('#zone-said').textContent")
    check(said.startswith("Zone ") and len(said) > 9, "the diagram says the zone that has the focus", said)
    box = page.js("(() => { const s = [...document.querySelectorAll('.drawing [tabindex]')].at(-1); s.scrollIntoView({block: 'center'}); const r = s.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2, s.dataset.zone] })()")
    page.js("document.querySelector('#zone-said').textContent = ''")
    page.call("Input.dispatchMouseEvent", type="mouseMoved", x=box[0], y=box[1])
    said = page.js("document.querySelector('#zone-said').textContent")
    check(said.startswith("Zone "), "and the zone under the pointer", said)
    page.js("document.querySelector('#zone-said').textContent = ''")
    page.call("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": box[0], "y": box[1]}])
    page.call("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
    check(page.js("document.querySelector('#zone-said').textContent").startswith("Zone "), "and the zone that is tapped")


def nothing_leaves(check, page, file, what):
    """No request but the page itself; and the policy refuses those that a fault could make."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        came = []

        def listen():
            # A connection may be opened before the policy speaks; what counts is what is sent on it.
            try:
                while True:
                    caller, _ = server.accept()
                    caller.settimeout(0.2)
                    try:
                        came.extend([sent] if (sent := caller.recv(200)) else [])
                    except TimeoutError:
                        pass
            except OSError:
                pass

        threading.Thread(target=listen, daemon=True).start()
        port = server.getsockname()[1]
        page.screen(1440)
        page.open(file)
        page.js(ready)
        asked = [e["params"]["request"]["url"] for e in page.events if e.get("method") == "Network.requestWillBeSent"]
        out = [url for url in asked if not url.startswith("data:") and not url.endswith(pathlib.Path(file).name)]
        check(not out, f"{what}: no request leaves the page", str(out[:3]))
        errors = [e["params"] for e in page.events if e.get("method") == "Runtime.exceptionThrown" or (e.get("method") == "Log.entryAdded" and e["params"]["entry"]["level"] == "error")]
        check(not errors, f"{what}: the console is empty", str(errors)[:300])
        page.js(f"""(async () => {{ const to = 'http://127.0.0.1:{port}/';
            await fetch(to).catch(() => 0); new Image().src = to; const f = document.createElement('iframe'); f.src = to; document.body.append(f);
            const l = document.createElement('link'); l.rel = 'stylesheet'; l.href = to; document.head.append(l);
            const s = document.createElement('script'); s.src = to; document.head.append(s);
            const o = document.createElement('script'); o.textContent = 'window.evil = 1'; document.head.append(o);
            await new Promise(done => setTimeout(done, 300)); }})()""")
        check(not came, f"{what}: what a fault would send is refused by the page's policy", str(came[:2]))
        check(page.js("window.evil") is None, f"{what}: a script put in does not run")


def markup(check, page, folder, program):
    """HTML Living Standard 13.1.2: what a person typed is text, whatever it looks like."""
    book = made.evil(program, folder / "evil-book")
    pages = cut_pages(program, folder / "evil-book", folder, book.findings()[0]["short"])
    for cut, file in pages.items():
        page.screen(1440)
        page.open(file)
        found = page.js("[document.querySelectorAll('[data-evil], [onerror], [onload]').length, typeof window.evil, document.querySelectorAll('script').length, document.querySelectorAll('style').length - document.querySelectorAll('svg style').length]")
        check(found == [0, "undefined", 0 if cut == "sheet" else 1, 1], f"{cut}: markup in every text stays text", str(found))
        check(made.EVIL in page.js("document.body.textContent"), f"{cut}: and is shown as it was typed")
    return pages


def table(check, page, folder, program):
    """Eighty zones by forty walkarounds."""
    made.many(program, folder / "many-book")
    file = folder / "many.html"
    subprocess.run([program, "-C", folder / "many-book", "report", "--out", file], check=True, capture_output=True)
    page.screen(1440, 900)
    page.open(file)
    rows, across = page.js("[document.querySelectorAll('#grid table:first-of-type')[0].querySelectorAll('tbody tr').length, [...document.querySelectorAll('#grid thead tr')].map(r => r.children.length - 1).reduce((a, b) => a + b)]")
    check(rows >= 60 and across == 40, "sixty zones and more by forty walkarounds", f"{rows} × {across}")
    stuck = page.js("""(() => { const box = document.querySelector('#grid .tall'); box.scrollIntoView(); box.scrollTop = 900; box.scrollLeft = 200;
        const r = box.getBoundingClientRect(), h = box.querySelector('thead th:nth-child(3)').getBoundingClientRect(), z = box.querySelectorAll('tbody th')[30].getBoundingClientRect();
        return [box.scrollTop, h.top - r.top, z.left - r.left] })()""")
    check(stuck[0] >= 900 and abs(stuck[1]) < 3 and abs(stuck[2]) < 3, "its heads stay when it is scrolled", str(stuck))
    size = page.js("Math.min(...[...document.querySelectorAll('#grid td, #grid th')].slice(0, 400).map(e => parseFloat(getComputedStyle(e).fontSize)))")
    check(size >= 12, "and its words are of a size to read", f"{size} px")
    words = page.js("[...document.querySelectorAll('#grid tbody td')].slice(0, 2000).every(td => td.textContent.trim())")
    check(words, "each cell says in words what its sign says")
    legend = page.js("document.querySelector('#grid .legend').textContent")
    check("could not be seen" in legend and "says nothing about the zone" in legend, "the signs have a legend", legend)
    return file


def firefox(check, pages, shots):
    with Firefox() as fox:
        print(fox.version)
        for cut, file in pages.items():
            for width in WIDTHS:
                fox.screen(width, 900)
                fox.open(file)
                said = [e["params"] for e in fox.wire.events if e["method"] == "log.entryAdded" and e["params"]["level"] in ("error", "warn")]
                asked = [e["params"]["request"]["url"] for e in fox.wire.events if e["method"] == "network.beforeRequestSent"]
                out = [url for url in asked if not url.startswith(("data:", "file:"))]
                check(not said, f"Firefox, {cut} at {width} px: the console is empty", str(said)[:300])
                check(not out, f"Firefox, {cut} at {width} px: no request leaves the page", str(out[:3]))
            wide = fox.js("document.scrollingElement.scrollWidth - innerWidth")
            check(wide <= 0, f"Firefox, {cut}: nothing wider than the screen", str(wide))
            check(fox.js("[...document.images].every(i => i.closest('.under') || (i.complete && i.naturalWidth > 0))"), f"Firefox, {cut}: every photo is there")
            fox.shot(shots / f"firefox-{cut}.png")


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--bin", required=True)
    asked.add_argument("--demo", required=True)
    asked.add_argument("--shots")
    asked = asked.parse_args()
    program = str(pathlib.Path(asked.bin).resolve())
    notebook = pathlib.Path(asked.demo) / "buyer"
    check = Checks()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        shots = pathlib.Path(asked.shots) if asked.shots else folder / "shots"
        shots.mkdir(parents=True, exist_ok=True)
        content = content_of(program, notebook)
        pages = cut_pages(program, notebook, folder, content["findings"][0]["short"])
        (folder / "evil").mkdir()
        with Chromium() as chromium:
            print(chromium.version)
            page = chromium.page()
            first_screen(check, page, pages["whole"], content)
            without_script(check, page, pages["whole"])
            filters(check, page, pages["whole"], content)
            keyboard(check, page, pages["whole"])
            for cut, file in pages.items():
                nothing_leaves(check, page, file, cut)
            table(check, page, folder, program)
            evil = markup(check, page, folder / "evil", program)
            looks(check, page, pages, shots)
        firefox(check, pages | {"markup": evil["whole"]}, shots)
    sys.exit(check.end())


if __name__ == "__main__":
    main()
