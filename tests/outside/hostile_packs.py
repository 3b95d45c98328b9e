#!/usr/bin/env python3
"""Packs made to do harm, each tried on a fresh notebook through `witnessmark receive`: refused with
status 2 and the notebook unchanged to the byte; or, where it can do no harm, itemised; never silence,
never a crash, never much memory. Every pack's seal is a hostile packer's own, so that it is right but
for the one thing that the case is about. Generator: hostile/cases.py; signatures by `cryptography`,
canonical JSON by `rfc8785`.

    tests/outside/hostile_packs.py --bin target/release/witnessmark [--only TEXT]
"""
import argparse
import io
import json
import pathlib
import resource
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parent / "hostile"))

from PIL import Image

import bag as bags
import cases
from rawzip import Member, build

NOW = ["--now", "2026-05-03T09:10:00+02:00"]


def picture(shade):
    out = io.BytesIO()
    Image.new("RGB", (32, 24), (shade, 90, 200)).save(out, "JPEG")
    return out.getvalue()


def state(notebook):
    """All but the index, which is derived, and the lock, which is empty."""
    return {str(p.relative_to(notebook)): p.read_bytes() for p in sorted(notebook.rglob("*"))
            if p.is_file() and not p.name.startswith("index.sqlite") and p.name != "notebook.lock"}


def limited():
    resource.setrlimit(resource.RLIMIT_AS, (2 << 30, 2 << 30))


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--bin", required=True)
    ask.add_argument("--only", default="")
    ask = ask.parse_args()
    binary = pathlib.Path(ask.bin).resolve()

    def wm(*words, seed=1):
        return subprocess.run([binary, *NOW, "--seed", str(seed), *map(str, words)], capture_output=True, text=True, timeout=60, preexec_fn=limited)

    passed = failed = 0
    with tempfile.TemporaryDirectory(prefix="hostile-") as work:
        work = pathlib.Path(work)
        home, reader, pristine = work / "home", work / "reader", work / "pristine"
        wm("init", home, "--author", "Invented", "--role", "owner")
        layout = json.loads(wm("layout", "list", "--json").stdout)["layouts"][0]["name"]
        wm("-C", home, "aircraft", "add", "N0TEST", "--type", "invented", "--layout", layout, seed=2)
        wm("-C", home, "walkaround", "start", seed=3)
        (work / "1.jpg").write_bytes(picture(10))
        wm("-C", home, "photo", work / "1.jpg", seed=4)
        wm("-C", home, "note", "a note", seed=5)
        wm("-C", home, "walkaround", "finish", seed=6)
        assert wm("-C", home, "pack", "--cut", "review", "--out", work / "good").returncode == 0
        wm("init", pristine, "--author", "Reader", "--role", "mechanic", seed=7)
        payload, form = bags.read(work / "good")
        outside = {p.name for p in work.iterdir()}

        # The generator itself: put together again unchanged, both forms are taken in without a row.
        for form_of, path in [("folder", bags.Bag(payload, cases.OTHER, form).folder(work / "again")), ("zip", work / "again.zip")]:
            if form_of == "zip":
                path.write_bytes(build(bags.Bag(payload, cases.OTHER, form).members(Member)))
            shutil.copytree(pristine, reader)
            said = wm("-C", reader, "receive", path, "--json")
            rows = [r for r in json.loads(said.stdout)["rows"] if r["code"] not in ("clock_order", "unplaced")]
            if said.returncode == 0 and not rows and state(reader) != state(pristine):
                passed += 1
            else:
                failed += 1
                print(f"FAILED: the pack that is as it should be ({form_of}) is not received: {said.stdout[:500]} {said.stderr[:300]}")
            usual = {json.dumps(r, sort_keys=True) for r in json.loads(said.stdout)["rows"]}
            shutil.rmtree(reader)
        before = state(pristine)
        tally = {}
        for name, make, wanted in cases.generate(payload, form, picture(200)):
            if ask.only not in name:
                continue
            spot = work / "spot"
            spot.mkdir()
            shutil.copytree(pristine, reader)
            try:
                path = make(spot / "pack")
            except (OSError, ValueError) as error:
                print(f"SKIPPED: {name}: this file system cannot hold it ({error})")
                shutil.rmtree(spot), shutil.rmtree(reader)
                continue
            wrong, got = [], ""
            try:
                said = wm("-C", reader, "receive", path, "--json")
                after = state(reader)
                text = said.stdout + said.stderr
                try:
                    shown = json.loads(said.stdout)
                except ValueError:
                    shown = {"rows": [], "refused": said.returncode == 2}
                rows = [r for r in shown["rows"] if json.dumps(r, sort_keys=True) not in usual]
                if said.returncode not in (0, 1, 2):
                    wrong.append(f"status {said.returncode}: {text[-300:]}")
                elif said.returncode == 2:
                    got = "refused"
                    if after != before:
                        wrong.append(f"refused, and the notebook changed: {sorted(set(after) ^ set(before)) or [n for n in after if after[n] != before[n]]}")
                    if not rows and not said.stderr.strip():
                        wrong.append("refused in silence")
                else:
                    got = "itemised" if rows else "SILENCE"
                    if not rows:
                        wrong.append("taken in, and not a word about it")
                    if any(b"evil" in data.lower() and "/evidence/" not in n for n, data in after.items() if not n.startswith(("record/", "received"))) or any("evil" in n for n in after):
                        wrong.append("what is evil came in")
                    said = wm("verify", reader, "--json")
                    bad = [r["code"] for r in json.loads(said.stdout)["rows"] if r["status"] == "failure"] if said.stdout else ["none"]
                    if bad and wanted != "shown":
                        wrong.append(f"the notebook does not verify afterwards: {bad}")
                if wanted != "either" and not wrong and got != wanted:
                    wrong.append(f"wanted {wanted}, got {got}: {[(r['code'], r['file'][:60]) for r in rows]}")
                # Looking at it must not be a trap either.
                looked = wm("verify", path)
                if looked.returncode not in (1, 2) and got == "refused" or looked.returncode > 2 or looked.returncode < 0:
                    wrong.append(f"verify of the pack: status {looked.returncode} {looked.stderr[-200:]}")
            except subprocess.TimeoutExpired:
                wrong.append("it takes more than a minute")
            if strange := {p.name for p in work.iterdir()} - outside - {"again", "again.zip", "spot", "reader"}:
                wrong.append(f"files outside: {strange}")
            if wrong:
                failed += 1
                print(f"FAILED: {name}\n    " + "\n    ".join(wrong))
            else:
                passed += 1
                tally[got] = tally.get(got, 0) + 1
            shutil.rmtree(spot), shutil.rmtree(reader)
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024
        if peak > 200:
            failed += 1
            print(f"FAILED: a pack took {peak} MB")
    print(f"{tally}, most memory of any run {peak} MB")
    print(f"{passed} passed, {failed} failed")
    return failed != 0


if __name__ == "__main__":
    sys.exit(main())
