"""A reader of records and packs that shares no code with the core, written from core/src/record/by_hand.md.

hashlib and json (Python), cryptography (Ed25519), rfc8785 (canonical JSON), python-stdnum (ISO/IEC 7064
MOD 37,36); the Merkle tree from the text of RFC 6962. Every fault is a line of text; no fault, no text.
"""
import base64
import collections
import hashlib
import json
import pathlib
import re

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from stdnum.iso7064 import mod_37_36

from jpeg_picture import picture

ZEROS = "0" * 64


def sha(data):
    return hashlib.sha256(data).digest()


def leaf(line):
    return sha(b"\0" + line)


def node(left, right):
    return sha(b"\1" + left + right)


def tree(leaves):
    """MTH of RFC 6962 section 2.1, word for word."""
    if not leaves:
        return sha(b"")
    if len(leaves) == 1:
        return leaf(leaves[0])
    k = split(len(leaves))
    return node(tree(leaves[:k]), tree(leaves[k:]))


def split(n):
    """The largest power of two smaller than n."""
    k = 1
    while k * 2 < n:
        k *= 2
    return k


def root_by_path(index, size, hashed, path):
    """PATH of RFC 6962 section 2.1.1 from the root downwards: another way than the core's. None if it cannot be."""
    if not 0 <= index < size:
        return None

    def walk(m, n, steps):
        if n == 1:
            return hashed if not steps else None
        if not steps:
            return None
        k, *rest = split(n), *steps
        last = rest.pop()
        inner = walk(m, k, rest) if m < k else walk(m - k, n - k, rest)
        if inner is None:
            return None
        return node(inner, last) if m < k else node(last, inner)

    return walk(index, size, list(path))


def consistent(first, second, root1, root2, proof):
    """PROOF of RFC 6962 section 2.1.2, from the root downwards."""
    if not 0 < first <= second:
        return False
    if first == second:
        return not proof and root1 == root2

    def walk(m, n, whole, steps):
        """The roots of the first m and of all n leaves of a subtree; whole: its old root is root1."""
        if m == n:
            if whole:
                return (root1, root1) if not steps else None
            return (steps[0], steps[0]) if len(steps) == 1 else None
        if not steps:
            return None
        *rest, last = steps
        k = split(n)
        if m <= k:
            inner = walk(m, k, whole, rest)
            return inner and (inner[0], node(inner[1], last))
        inner = walk(m - k, n - k, False, rest)
        return inner and (node(last, inner[0]), node(last, inner[1]))

    return walk(first, second, True, list(proof)) == (root1, root2)


def proof_code(digest):
    body = base64.b32encode(digest[:20]).decode()
    text = body + mod_37_36.calc_check_digit(body)
    return " ".join(text[i : i + 4] for i in range(0, len(text), 4))


def signed(key, message, signature):
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(key)).verify(bytes.fromhex(signature), message)
        return True
    except (InvalidSignature, ValueError):
        return False


def once(pairs):
    """An object whose keys stand once."""
    members = dict(pairs)
    if len(members) != len(pairs):
        raise ValueError("a key stands twice")
    return members


class Reader:
    """Reads `base`, a notebook's folder or a pack's data folder, and counts what it derived."""

    def __init__(self, base):
        self.base = pathlib.Path(base)
        self.faults = []
        self.counts = collections.Counter()
        self.lines = {}  # digest -> (entry, bytes)
        self.codes = {}  # finish digest -> proof code
        self.files = {}  # digest -> path of evidence and slips
        for folder in ("evidence", "slips"):
            for path in sorted((self.base / folder).glob("*/*")):
                self.named(folder, path)
        chains = sorted((self.base / "record").glob("*/*.jsonl"))
        for path in chains:
            self.chain(path)
        for path in sorted((self.base / "proofs").glob("*.json")):
            self.proofs(path)
        for digest, (entry, _) in self.lines.items():
            self.cited(digest, entry)

    def fault(self, *words):
        self.faults.append(" ".join(map(str, words)))

    def named(self, folder, path):
        data = path.read_bytes()
        digest = sha(data).hex()
        name = path.name.split(".")[0]
        self.counts[folder] += 1
        if digest != name or path.parent.name != name[:2]:
            self.fault("file is not its name:", path)
        self.files[name] = path
        if folder == "slips":
            slip = json.loads(data, object_pairs_hook=once)
            if rfc8785.dumps(slip) != data:
                self.fault("slip is not canonical:", path)
            if not re.fullmatch("[0-9a-f]{32}", slip.get("salt", "")):
                self.fault("slip has no salt of 128 bits:", path)

    def chain(self, path):
        data = path.read_bytes()
        if not data.endswith(b"\n"):
            self.fault("unfinished last line:", path)
        by_seq, raws = {}, data.split(b"\n")[:-1]
        for number, raw in enumerate(raws, 1):
            place = f"{path} line {number}"
            try:
                line = json.loads(raw, object_pairs_hook=once)
                entry, signature = line["entry"], line["sig"]
                seq, prev, author = entry["seq"], entry["prev"], entry["author"]
                if rfc8785.dumps(line) != raw:
                    self.fault("not canonical:", place)
                if not signed(author, rfc8785.dumps(entry), signature):
                    self.fault("bad signature:", place)
            except (ValueError, KeyError, TypeError) as error:
                self.fault("cannot be read:", place, error)
                continue
            self.counts["signatures"] += 1
            if path.name.split(".")[0] != author:
                self.fault("another author:", place)
            digest = sha(raw).hex()
            opening = entry["kind"] == "chain opened" and entry["aircraft"] == ZEROS
            if path.parent.name not in (digest if opening else entry["aircraft"], "loose"):
                self.fault("another aircraft:", place)
            if seq in by_seq:
                self.fault("two lines with one number:", place)
            if seq == 0 and prev != ZEROS or seq > 0 and seq - 1 in by_seq and by_seq[seq - 1][1] != prev:
                self.fault("broken link:", place)
            by_seq[seq] = (raw, digest)
            self.counts["links"] += seq == 0 or seq - 1 in by_seq
            self.lines[digest] = (entry, raw)
            self.counts["lines"] += 1
            if entry["kind"] == "walkaround finished":
                self.finish(place, entry, digest, by_seq)

    def finish(self, place, entry, digest, by_seq):
        self.codes[digest] = proof_code(bytes.fromhex(digest))
        body = entry["body"]
        if body["size"] != entry["seq"]:
            self.fault("size is not its own number:", place)
        if all(seq in by_seq for seq in range(body["size"])):
            self.counts["roots"] += 1
            if tree([by_seq[seq][0] for seq in range(body["size"])]).hex() != body["root"]:
                self.fault("wrong root:", place)

    def proofs(self, path):
        for proof in json.loads(path.read_bytes())["proofs"]:
            finish, line = self.lines.get(proof["finish"]), self.lines.get(proof["line"])
            if not finish or not line:
                self.fault("a proof of what is not there:", path)
                continue
            body = finish[0]["body"]
            steps = [bytes.fromhex(step) for step in proof["path"]]
            got = root_by_path(proof["index"], body["size"], leaf(line[1]), steps)
            self.counts["paths"] += 1
            if got is None or got.hex() != body["root"]:
                self.fault("the path does not lead to the root:", path, proof["line"])

    def cited(self, digest, entry):
        body, kind = entry["body"], entry["kind"]
        file = self.files.get(body.get("file", "")) if isinstance(body, dict) else None
        if kind in ("photo taken", "paper taken") and file:
            data = file.read_bytes()
            self.counts["pictures"] += body.get("picture") is not None
            if body.get("bytes") not in (None, len(data)):
                self.fault("another length:", file)
            if body.get("picture") != picture(data):
                self.fault("another picture:", file, digest)
        if kind == "vouched":
            self.counts["vouched"] += 1
            there = [d for d, (e, _) in self.lines.items() if (e["aircraft"], e["author"], e["seq"]) == (body.get("aircraft", entry["aircraft"]), body["author"], body["seq"])]
            if there and body["line"] not in there:
                self.fault("not as vouched:", digest)
        if kind == "author linked":
            self.counts["linked"] += 1
            said = {"aircraft": entry["aircraft"], "author": entry["author"], "linked": body["linked"]}
            if not signed(body["linked"], rfc8785.dumps(said), body["sig"]):
                self.fault("the other key did not sign this link:", digest)
