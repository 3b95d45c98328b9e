#!/usr/bin/env python3
"""The record of the demo, of the golden notebooks and of a pack, read by software that shares no code with the core.

Every digest, signature, link, slip, tree root, path, proof code and `picture` is derived again (by_hand.py, whose
parts are others' libraries and the text of standards); what the program says about proof codes and paths must be the same. The
shell and Python blocks of core/src/record/by_hand.md are run as they stand. Then single bytes are altered, and both the
reader and the blocks must say so. `exiftool -all=` takes the position out of every photo, and keeps its `picture`.

    tests/outside/record.py --bin target/release/witnessmark [--demo FOLDER]
"""
import argparse
import collections
import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import rfc8785
from by_hand import Reader, consistent, leaf, proof_code, root_by_path, sha, signed
from jpeg_picture import picture

ROOT = pathlib.Path(__file__).resolve().parents[2]
counts = collections.Counter()


def check(what, good, note=""):
    counts["passed" if good else "failed"] += 1
    if not good:
        print(f"FAILED: {what} {note}")


def skip(why):
    counts["skipped"] += 1
    print(f"SKIPPED: {why}")


def blocks():
    """The page's blocks in order: language and text."""
    page = (ROOT / "core/src/record/by_hand.md").read_text()
    found = re.findall(r"^```(sh|python)\n(.*?)^```", page, re.M | re.S)
    check("the page has its five blocks", [kind for kind, _ in found] == ["sh", "sh", "sh", "python", "python"])
    return [(["bash", "-c"] if kind == "sh" else [sys.executable, "-I", "-c"], text) for kind, text in found]


def run_page(folder):
    """What the page's commands print."""
    said = ""
    for command, text in blocks():
        done = subprocess.run([*command, text], cwd=folder, capture_output=True, text=True)
        said += done.stdout + done.stderr
    return said


def altered(folder, path, offset, change):
    """A copy of a notebook with one byte of a file changed."""
    copy = pathlib.Path(tempfile.mkdtemp(dir=folder.parent))
    for part in ("record", "evidence", "slips"):
        if (folder / part).exists():
            shutil.copytree(folder / part, copy / part)
    target = copy / path.relative_to(folder)
    target.chmod(0o600)
    data = bytearray(target.read_bytes())
    data[offset] ^= change
    target.write_bytes(data)
    return copy


def faults_are_found(folder):
    """In a copy, a few letters of a chain, an evidence file and a slip."""
    chain = max((folder / "record").glob("*/*.jsonl"), key=lambda path: path.stat().st_size)
    data = chain.read_bytes()
    first = data.index(b"\n")
    cases = [
        ("an entry's word", chain, data.index(b'"clock":"', first) + 9),
        ("a signature", chain, data.index(b'"sig":"', first) + 20),
        ("a link", chain, data.index(b'"prev":"', first) + 10),
        ("a number", chain, data.index(b'"seq":', first) + 6),
        ("the first line", chain, data.index(b'"nonce":"') + 12),
        ("a root", chain, data.index(b'"root":"') + 12 if b'"root":"' in data else 40),
        ("a photo", next((folder / "evidence").glob("*/*.jpg")), -5000),
        ("a slip", next((folder / "slips").glob("*/*.json")), 10),
    ]
    for what, path, offset in cases:
        size = path.stat().st_size
        copy = altered(folder, path, max(offset, -size), 1)
        check(f"the reader finds {what} altered", Reader(copy).faults)
        check(f"the page's commands find {what} altered", run_page(copy))
        shutil.rmtree(copy)


def page_and_reader(name, folder, want=()):
    reader = Reader(folder)
    check(f"{name}: nothing is wrong", not reader.faults, "; ".join(reader.faults[:5]))
    for what in want:
        check(f"{name}: {what} were there to check", reader.counts[what] > 0)
    said = run_page(folder)
    check(f"{name}: the page's commands find nothing", not said, said[:500])
    print(f"{name}: " + ", ".join(f"{what} {n}" for what, n in sorted(reader.counts.items())))
    return reader


def same_as_the_program(binary, name, folder, reader):
    def ask(*words):
        done = subprocess.run([binary, "-C", folder, *words, "--json"], capture_output=True, text=True)
        check(f"{name}: {words[:2]}", done.returncode == 0, done.stderr)
        return json.loads(done.stdout)

    finishes = {row["finish"]: row["code"] for row in ask("proof")["finishes"]}
    check(f"{name}: proof codes as the program prints them", finishes == reader.codes, f"{finishes} {reader.codes}")
    for digest in list(reader.lines)[::7]:
        entry, raw = reader.lines[digest]
        done = subprocess.run([binary, "-C", folder, "proof", "--line", digest, "--json"], capture_output=True, text=True)
        if done.returncode != 0:
            # A line after its author's last finish is not covered yet, and that is said.
            later = [e for e, _ in reader.lines.values() if e["author"] == entry["author"] and e["kind"] == "walkaround finished" and e["seq"] > entry["seq"]]
            check(f"{name}: a covered line has a proof", not later, done.stderr)
            continue
        proof = json.loads(done.stdout)
        proof = proof.get("proof", proof)
        path = [bytes.fromhex(step) for step in proof["path"]]
        got = root_by_path(proof["index"], proof["size"], leaf(raw), path)
        finish = reader.lines[proof["finish"]][0]["body"]
        check(f"{name}: a path from the program leads to the recorded root", got and got.hex() == proof["root"] == finish["root"] and finish["size"] == proof["size"])
        counts["paths from the program"] += 1


def handed_over(binary, name, folder, reader, work):
    """One line, and one finish under another, in files of their own: checked by a stranger three ways."""

    def run(*words):
        return subprocess.run([binary, *words, "--json"], capture_output=True, text=True)

    place = work / f"handed-{name.split()[-1]}"
    place.mkdir()
    finishes = collections.defaultdict(list)
    for row in json.loads(run("-C", folder, "proof").stdout)["finishes"]:
        finishes[row["author"]].append(row)
    for author, rows in finishes.items():
        rows.sort(key=lambda row: row["size"])
        lines = [d for d, (e, _) in reader.lines.items() if e["author"] == author and e["seq"] < rows[-1]["size"]]
        for digest in lines[:: max(1, len(lines) // 5)]:
            file = place / f"line-{digest[:12]}.proof.json"
            done = run("-C", folder, "proof", "--line", digest, "--out", file)
            check(f"{name}: a line's proof is written", done.returncode == 0, done.stderr)
            proof = json.loads(file.read_bytes())
            entry, raw = reader.lines[digest]
            finish = json.loads(proof["finish_text"])
            body = finish["entry"]["body"]
            got = root_by_path(proof["index"], body["size"], leaf(proof["text"].encode()), [bytes.fromhex(s) for s in proof["path"]])
            check(f"{name}: the line in the file is the recorded one", proof["text"].encode() == raw and entry["seq"] == proof["index"])
            check(f"{name}: it leads to the root of the finish", got is not None and got.hex() == body["root"])
            check(f"{name}: the finish is signed", signed(author, rfc8785.dumps(finish["entry"]), finish["sig"]))
            check(f"{name}: the code is the finish's", proof["code"] == proof_code(sha(proof["finish_text"].encode())))
            counts["lines handed over"] += 1
        for older in rows:
            for newer in rows:
                file = place / f"finish-{older['finish'][:8]}-{newer['finish'][:8]}.proof.json"
                done = run("-C", folder, "proof", "--older", older["code"], "--newer", newer["finish"], "--out", file)
                if older["size"] > newer["size"]:
                    check(f"{name}: a newer one is no older one", done.returncode == 2, done.stderr)
                    continue
                check(f"{name}: two finishes", done.returncode == 0, done.stderr)
                proof = json.loads(file.read_bytes())
                data = [bytes.fromhex(proof[key]) for key in ("old_root", "new_root")]
                steps = [bytes.fromhex(step) for step in proof["path"]]
                check(f"{name}: the newer finish covers the older", consistent(older["size"], newer["size"], *data, steps))
                check(f"{name}: of the recorded roots", [proof["old_root"], proof["new_root"]] == [older["root"], newer["root"]])
                counts["finishes under another"] += 1
    for part in ("record", "evidence", "slips"):
        (place / part).mkdir()
    (place / "record/none").mkdir()
    check(f"{name}: the page's commands find nothing wrong with them", "does not hold" not in run_page(place))
    for file in sorted(place.glob("*.proof.json"))[:8]:
        check(f"{name}: so says the program, without a notebook", run("proof", "--verify", file).returncode == 0)
        good = file.read_bytes()
        proof = json.loads(good)
        key = "path" if proof["path"] else "new_root" if "new_root" in proof else "root"
        value = proof[key][0] if key == "path" else proof[key]
        wrong = ("1" if value[0] == "0" else "0") + value[1:]
        if key == "path":
            proof["path"][0] = wrong
        else:
            proof[key] = wrong
        file.write_text(json.dumps(proof))
        check(f"{name}: a wrong step is found by the program", run("proof", "--verify", file).returncode == 1)
        if key != "root":
            check(f"{name}: and by the page's commands", "does not hold" in run_page(place))
        file.write_bytes(good)


def stripped(folder, reader, work):
    if not shutil.which("exiftool"):
        skip("exiftool is not installed: no photo is stripped")
        return
    for entry, _ in reader.lines.values():
        path = reader.files.get(entry["body"].get("file", "")) if entry["kind"] == "photo taken" else None
        if not path or path.suffix != ".jpg":
            continue
        copy = work / f"stripped-{path.name}"
        subprocess.run(["exiftool", "-q", "-m", "-all=", "-o", copy, path], check=True)
        check("the file is another", copy.read_bytes() != path.read_bytes())
        check("the picture is the recorded one", picture(copy.read_bytes()) == entry["body"]["picture"], path.name)
        copy.unlink()
        counts["stripped"] += 1


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--bin", required=True)
    ask.add_argument("--demo", default=os.environ.get("WITNESSMARK_DEMO"))
    ask = ask.parse_args()
    binary = pathlib.Path(ask.bin).resolve()
    with tempfile.TemporaryDirectory(prefix="record-") as work:
        work = pathlib.Path(work)
        demo = pathlib.Path(ask.demo) if ask.demo else work / "demo"
        if not demo.exists():
            subprocess.run([binary, "demo", demo, "--json"], check=True, capture_output=True)
        usual = ("lines", "signatures", "links", "roots", "evidence", "slips", "pictures")
        for person in ("owner", "mechanic", "buyer"):
            reader = page_and_reader(f"demo, {person}", demo / person, usual)
            same_as_the_program(binary, f"demo, {person}", demo / person, reader)
            handed_over(binary, f"demo, {person}", demo / person, reader, work)
            if person == "owner":
                stripped(demo / person, reader, work)
        page = next(demo.glob("*.html")).read_text()
        owner = Reader(demo / "owner")
        check("the report prints the codes derived here", any(code in page for code in owner.codes.values()))

        # What the demo has no occasion for: golden notebooks (vouching) and golden lines (every kind, links of keys).
        golden = ROOT / "fixtures/record"
        for person in ("owner", "mechanic"):
            page_and_reader(f"golden, {person}", golden / "notebooks" / person, usual)
        lines = (golden / "lines.jsonl").read_bytes()
        first = lines.split(b"\n")[0]
        chain = work / "lines/record" / hashlib.sha256(first).hexdigest() / (json.loads(first)["entry"]["author"] + ".jsonl")
        chain.parent.mkdir(parents=True)
        chain.write_bytes(lines)
        for part in ("evidence", "slips"):
            (work / "lines" / part).mkdir()
        reader = Reader(work / "lines")
        for what in ("lines", "signatures", "links", "linked", "vouched"):
            check(f"golden lines: {what} were there to check", reader.counts[what] > 0)
        # One line of every kind: its finish has an invented root, which must be the one thing that is found.
        check("golden lines: the invented root and nothing else", [f[:11] for f in reader.faults] == ["wrong root:"], reader.faults)
        check("golden lines: so says the page", run_page(work / "lines").count("\n") == 1)
        page_and_reader("golden pack", golden / "notebooks/pack/data", usual)

        # A pack of one finding: lines with gaps, each with its path.
        part = work / "part"
        finding = json.loads(subprocess.run([binary, "-C", demo / "owner", "history", "--json"], capture_output=True, check=True).stdout)["findings"][0]["short"]
        done = subprocess.run([binary, "-C", demo / "owner", "pack", "--cut", "finding", finding, "--out", part], capture_output=True, text=True)
        check("a finding is packed", done.returncode == 0, done.stderr)
        if done.returncode == 0:
            reader = Reader(part / "data")
            check("part: nothing is wrong", not reader.faults, "; ".join(reader.faults[:5]))
            check("part: there are paths", reader.counts["paths"] > 0)
            print("part: " + ", ".join(f"{what} {n}" for what, n in sorted(reader.counts.items())))

        own = work / "altered"
        shutil.copytree(golden / "notebooks/owner", own)
        faults_are_found(own)
    print("compared: " + ", ".join(f"{what} {n}" for what, n in sorted(counts.items()) if what not in ("passed", "failed", "skipped")))
    print(f"{counts['passed']} passed, {counts['failed']} failed, {counts['skipped']} skipped")
    sys.exit(1 if counts["failed"] else 0)


main()
