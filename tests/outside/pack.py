#!/usr/bin/env python3
"""Packs, proofs and proof codes, read by software that shares no code with the core.

A notebook is made through the command line (invented data), packed as folder and zip, whole and in
part; then every digest, signature, tree root, inclusion path and proof code is derived again here:
hashlib and json (Python), cryptography (Ed25519), rfc8785 (canonical JSON), bagit (BagIt, Library of
Congress), zipfile, sha256sum, python-stdnum (ISO/IEC 7064 MOD 37,36), RFC 6962 from its text.
The BagIt conformance suite (CC0) is judged through `witnessmark verify` where ../shared is present.
"""
import argparse
import base64
import hashlib
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import zipfile

import bagit
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from PIL import Image
from stdnum.iso7064 import mod_37_36

passed = failed = skipped = 0


def check(what, good, note=""):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what} {note}")


def skip(why):
    global skipped
    skipped += 1
    print(f"SKIPPED: {why}")


def sha(data):
    return hashlib.sha256(data).digest()


def tree(leaves):
    """MTH of RFC 6962 section 2.1, word for word."""
    if not leaves:
        return sha(b"")
    if len(leaves) == 1:
        return sha(b"\0" + leaves[0])
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return sha(b"\1" + tree(leaves[:k]) + tree(leaves[k:]))


def root_from_path(index, size, leaf, path):
    """PATH of RFC 6962 section 2.1.1 walked from the root, recursively: another way than the core's."""

    def walk(m, n, steps):
        if n == 1:
            return leaf
        k = 1
        while k * 2 < n:
            k *= 2
        *rest, last = steps
        if m < k:
            return sha(b"\1" + walk(m, k, rest) + last)
        return sha(b"\1" + last + walk(m - k, n - k, rest))

    return walk(index, size, path)


def code(digest):
    body = base64.b32encode(digest[:20]).decode()
    text = body + mod_37_36.calc_check_digit(body)
    return " ".join(text[i : i + 4] for i in range(0, len(text), 4))


def read_payload(base):
    """Checks everything below data/; returns lines by digest."""
    lines = {}
    for path in sorted((base / "record").glob("*/*.jsonl")):
        chain = [json.loads(raw) | {"raw": raw} for raw in path.read_bytes().split(b"\n") if raw]
        for line in chain:
            raw, entry = line["raw"], line["entry"]
            check("canonical line", rfc8785.dumps({"entry": entry, "sig": line["sig"]}) == raw)
            key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(entry["author"]))
            try:
                key.verify(bytes.fromhex(line["sig"]), rfc8785.dumps(entry))
                check("signature", True)
            except Exception as error:  # noqa: BLE001
                check("signature", False, str(error))
            check("author names the file", path.stem == entry["author"])
            lines[sha(raw).hex()] = line
        seqs = [line["entry"]["seq"] for line in chain]
        if seqs == list(range(len(chain))):
            for before, line in zip(chain, chain[1:]):
                check("link", line["entry"]["prev"] == sha(before["raw"]).hex())
            for line in chain:
                if line["entry"]["kind"] == "walkaround finished":
                    body = line["entry"]["body"]
                    check("size is own seq", body["size"] == line["entry"]["seq"])
                    leaves = [other["raw"] for other in chain[: body["size"]]]
                    check("root", tree(leaves).hex() == body["root"])
    for path in sorted((base / "proofs").glob("*.json")) if (base / "proofs").exists() else []:
        for proof in json.loads(path.read_bytes())["proofs"]:
            finish = lines[proof["finish"]]["entry"]["body"]
            leaf = sha(b"\0" + lines[proof["line"]]["raw"])
            steps = [bytes.fromhex(step) for step in proof["path"]]
            got = root_from_path(proof["index"], finish["size"], leaf, steps)
            check("inclusion path", got.hex() == finish["root"])
    for folder in ("evidence", "slips"):
        for path in sorted((base / folder).glob("*/*")) if (base / folder).exists() else []:
            check("file is its name", sha(path.read_bytes()).hex() == path.name.split(".")[0], str(path))
    return lines


def seal(folder):
    tags = (folder / "tagmanifest-sha256.txt").read_bytes()
    packer = json.loads((folder / "packer.json").read_bytes())
    check("packer signs this bag", packer["bag"] == sha(tags).hex())
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(packer["packer"]))
    try:
        key.verify(bytes.fromhex(packer["sig"]), rfc8785.dumps({"bag": packer["bag"], "packer": packer["packer"]}))
        check("packer's signature", True)
    except Exception as error:  # noqa: BLE001
        check("packer's signature", False, str(error))


def sums(folder):
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        done = subprocess.run(["sha256sum", "--strict", "--quiet", "-c", name], cwd=folder, capture_output=True)
        check(f"sha256sum -c {name}", done.returncode == 0, done.stderr.decode())


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bin", required=True, help="the witnessmark binary")
    args = parser.parse_args()
    binary = os.path.abspath(args.bin)
    work = pathlib.Path(tempfile.mkdtemp())

    def run(*words, want=0, json_out=False):
        words = [binary, *map(str, words)] + (["--json"] if json_out else [])
        done = subprocess.run(words, cwd=work, capture_output=True, text=True)
        check(" ".join(words[1:5]), done.returncode == want, f"exit {done.returncode}: {done.stderr}")
        return json.loads(done.stdout) if json_out and done.stdout else done.stdout

    for n in range(3):
        Image.effect_noise((64, 48), 40 + n).convert("RGB").save(work / f"{n}.jpg")
    given = ["--now", "2026-05-03T09:10:00+02:00", "--seed", "1"]
    run("init", "a", "--author", "Invented One", "--role", "owner", *given)
    run("init", "b", "--author", "Invented Two", "--role", "mechanic", *given[:2], "--seed", "2")
    layout = run("layout", "list", json_out=True)["layouts"][0]["name"]
    run("-C", "a", "aircraft", "add", "N0TEST", "--type", "invented", "--layout", layout, *given)
    zone = run("layout", "show", layout, json_out=True)["zones"][0]["code"]
    for n in range(3):
        run("-C", "a", "walkaround", "start", "--hours", 1000 + n, *given)
        run("-C", "a", "photo", f"{n}.jpg", "--zone", zone, *given)
        run("-C", "a", "note", f"note {n}", "--zone", zone, *given)
        run("-C", "a", "walkaround", "finish", *given)

    for name, more in (("whole", ()), ("less", ("--withhold", "location,people"))):
        run("-C", "a", "pack", "--cut", "review", "--out", f"{name}", *more)
        run("-C", "a", "pack", "--cut", "review", "--out", f"{name}.zip", *more)
        run("-C", "a", "pack", "--cut", "review", "--out", f"{name}-again.zip", *more)
        folder = work / name
        check("two zips are one", (work / f"{name}.zip").read_bytes() == (work / f"{name}-again.zip").read_bytes())
        check("bagit accepts it", bagit.Bag(str(folder)).is_valid())
        sums(folder)
        seal(folder)
        lines = read_payload(folder / "data")
        check("there are lines", len(lines) > 10)
        with zipfile.ZipFile(work / f"{name}.zip") as archive:
            check("zipfile reads every member", archive.testzip() is None)
            names = archive.namelist()
            check("names sorted", names == sorted(names))
            check("stored", all(info.compress_type == 0 for info in archive.infolist()))
            inside = {n.split("/", 1)[1]: archive.read(n) for n in names}
        outside = {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
        check("zip and folder hold the same", inside == outside)
        for path in (name, f"{name}.zip"):
            rows = run("verify", path, json_out=True)["rows"]
            check("verify has no failure", not any(row["status"] == "failure" for row in rows), str(rows))
        people = b"Invented One"
        found = any(people in data for data in outside.values())
        check("names are there or left out", found == (name == "whole"))

    finishes = run("-C", "a", "proof", json_out=True)["finishes"]
    check("three finishes", len(finishes) == 3)
    for row in finishes:
        check("proof code", code(bytes.fromhex(row["finish"])) == row["code"], row["code"])
        run("-C", "a", "proof", "--check", row["code"].lower().replace(" ", "-"))
        wrong = ("A" if row["code"][0] != "A" else "B") + row["code"][1:]
        run("-C", "a", "proof", "--check", wrong, want=2)

    for _ in range(2):
        run("-C", "b", "receive", "whole.zip", *given)
    there = {p.name: p.read_bytes() for p in (work / "b" / "record").rglob("*.jsonl")}
    for path in (work / "a" / "record").rglob("*.jsonl"):
        check("received as it was", there.get(path.name) == path.read_bytes())
    hurt = bytearray((work / "whole.zip").read_bytes())
    hurt[len(hurt) // 2] ^= 1
    (work / "hurt.zip").write_bytes(hurt)
    run("-C", "b", "receive", "hurt.zip", want=2)
    run("verify", "hurt.zip", want=1)

    shared = pathlib.Path(os.environ.get("WITNESSMARK_SHARED", pathlib.Path(__file__).parents[2] / ".." / "shared"))
    suite = shared / "outside" / "bagit"
    if suite.exists():
        for case in sorted(suite.glob("v*/*/*/")):
            want = 0 if case.parent.name in ("valid", "warning") else 1
            run("verify", case, want=want)
    else:
        skip(f"{suite} is not there")
    shutil.rmtree(work)
    print("compared: bags, zips, digests, signatures, roots, paths, proof codes, the BagIt suite")
    print(f"{passed} passed, {failed} failed, {skipped} skipped")
    sys.exit(1 if failed else 0)


main()
