#!/usr/bin/env python3
"""Merkle proofs and proof codes against others' data and others' readers.

The 196 published cases of github.com/transparency-dev/merkle (../shared/outside/merkle, Apache-2.0), judged by the
reader in by_hand.py: the reader that judges the core is itself held against them (the core's own judging of the same
cases is core/src/record/proof/merkle/tests.rs). Trees and codes of random lines: code by python-stdnum, every
wrong character and every proof cut short refused. The QR symbol that the program draws is read by OpenCV's decoder.

    tests/outside/merkle.py --bin target/release/witnessmark
"""
import argparse
import base64
import json
import os
import pathlib
import random
import re
import subprocess
import sys
import tempfile

import cv2
import numpy
from stdnum.iso7064 import mod_37_36

from by_hand import consistent, leaf, node, proof_code, root_by_path, sha, split, tree

passed = failed = skipped = 0


def check(what, good, note=""):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what} {note}")


def published(folder):
    accepted = refused = 0
    for path in sorted([*folder.glob("inclusion/**/*.json"), *folder.glob("consistency/**/*.json")]):
        case = json.loads(path.read_bytes())
        data = {name: base64.b64decode(case.get(name) or "") for name in ("root", "root1", "root2", "leafHash")}
        proof = [base64.b64decode(step) for step in case.get("proof") or []]
        if "inclusion" in path.parts:
            got = root_by_path(case.get("leafIdx", 0), case.get("treeSize", 0), data["leafHash"], proof)
            good = got is not None and got == data["root"] and len(data["leafHash"]) == 32
        else:
            good = consistent(case.get("size1", 0), case.get("size2", 0), data["root1"], data["root2"], proof)
        check(str(path), good == (not case["wantErr"]))
        accepted, refused = accepted + good, refused + (not good)
    check("12 accepted and 184 refused", (accepted, refused) == (12, 184), f"{accepted} {refused}")


def path_of(m, leaves):
    """PATH of RFC 6962 section 2.1.1, as it stands there."""
    if len(leaves) == 1:
        return []
    k = split(len(leaves))
    if m < k:
        return path_of(m, leaves[:k]) + [tree(leaves[k:])]
    return path_of(m - k, leaves[k:]) + [tree(leaves[:k])]


def own_trees(chance):
    for size in range(1, 40):
        leaves = [chance.randbytes(20) for _ in range(size)]
        root = tree(leaves)
        for at in range(size):
            path = path_of(at, leaves)
            check("a path leads to the root", root_by_path(at, size, leaf(leaves[at]), path) == root)
            check("a path cut short does not", not path or root_by_path(at, size, leaf(leaves[at]), path[:-1]) is None)
            check("nor one too long", root_by_path(at, size, leaf(leaves[at]), [*path, root]) is None)
    check("leaf and node differ", leaf(b"a" * 64) != node(b"a" * 32, b"a" * 32))


def codes(binary, work):
    given = ["--now", "2026-05-03T09:10:00+02:00", "--seed", "1"]

    def run(*words, want=0):
        done = subprocess.run([binary, "-C", work / "n", *words, *given], capture_output=True, text=True)
        check(" ".join(map(str, words[:2])), done.returncode == want, f"exit {done.returncode}: {done.stderr}")
        return done.stdout

    run("init", work / "n", "--author", "Invented One", "--role", "owner")
    layout = json.loads(run("layout", "list", "--json"))["layouts"][0]["name"]
    run("aircraft", "add", "N0QR", "--type", "invented", "--layout", layout)
    for n in range(3):
        run("walkaround", "start")
        run("note", f"note {n}")
        run("walkaround", "finish")
        row = json.loads(run("proof", "--json"))["finishes"][-1]
        code = row["code"]
        check("the code is derived here", code == proof_code(bytes.fromhex(row["finish"])), code)
        bare = code.replace(" ", "")
        check("python-stdnum accepts it", mod_37_36.is_valid(bare))
        for at in range(0, len(bare), 5):
            wrong = bare[:at] + ("B" if bare[at] != "B" else "C") + bare[at + 1 :]
            check("python-stdnum refuses a wrong character", not mod_37_36.is_valid(wrong))
            run("proof", "--check", wrong, want=2)
        svg = work / f"{n}.svg"
        run("proof", "--qr", svg)
        check("a stranger's reader gets the code from the QR symbol", read_qr(svg.read_text()) == code, read_qr(svg.read_text()))


def read_qr(svg):
    """Draws the squares of the SVG and hands the pixels to OpenCV."""
    side = int(re.search(r'viewBox="0 0 (\d+) ', svg).group(1))
    pixels = numpy.full((side, side), 255, numpy.uint8)
    for x, y, width, height in re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)H", svg):
        x, y, width, height = int(x), int(y), int(width), int(height)
        pixels[y : y + height, x : x + width] = 0
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(cv2.resize(pixels, None, fx=4, fy=4, interpolation=cv2.INTER_NEAREST))
    return text


def main():
    global skipped
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--bin", required=True)
    ask = ask.parse_args()
    shared = pathlib.Path(os.environ.get("WITNESSMARK_SHARED", pathlib.Path(__file__).resolve().parents[2] / "../shared"))
    folder = shared / "outside/merkle/testdata"
    if folder.exists():
        published(folder)
    else:
        skipped += 1
        print(f"SKIPPED: {folder} is not there")
    own_trees(random.Random(1))
    # The empty tree and one empty leaf, from RFC 6962's reference implementation (from memory).
    check("empty tree", sha(b"").hex() == tree([]).hex() == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")
    check("one empty leaf", tree([b""]).hex() == "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d")
    with tempfile.TemporaryDirectory(prefix="merkle-") as work:
        codes(pathlib.Path(ask.bin).resolve(), pathlib.Path(work))
    print(f"{passed} passed, {failed} failed, {skipped} skipped")
    sys.exit(1 if failed else 0)


main()
