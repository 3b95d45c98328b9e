"""A pack taken apart and put together again under another key, so that only the one thing that a case
is about is wrong with it."""
import hashlib
import os
import json
import pathlib

import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

BAGIT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def sha(data):
    return hashlib.sha256(data).hexdigest()


class Key:
    def __init__(self, seed):
        self.private = Ed25519PrivateKey.from_private_bytes(bytes([seed]) * 32)
        self.public = self.private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()

    def sign(self, value):
        return self.private.sign(value if isinstance(value, bytes) else rfc8785.dumps(value)).hex()


def line(key, seq, prev, kind, body, aircraft="0" * 64, **said):
    """A line of a chain (design: canonical, signed), and its digest. `signer` signs in place of `key`."""
    entry = {"aircraft": aircraft, "at": "2026-05-03T09:10:00+02:00", "author": key.public, "body": body, "clock": "given",
             "kind": kind, "prev": prev, "seen": {"from": "clock", "offset": "+02:00", "time": "2026-05-03T09:10:00"}, "seq": seq}
    signer = said.pop("signer", key)
    entry.update(said)
    raw = rfc8785.dumps({"entry": entry, "sig": signer.sign(entry)})
    return raw, sha(raw)


class Bag:
    """Payload, and the tag files made over it at the last moment."""

    def __init__(self, payload, key, form):
        self.payload, self.key, self.form = dict(payload), key, form
        self.listed = {}        # manifest lines in place of the usual ones, by path; None: not listed
        self.more = b""         # bytes behind the manifest
        self.info = {}          # elements of bag-info.txt in place of the usual
        self.tags = {}          # whole tag files in place of the usual; None: none
        self.seal = {}          # fields of packer.json in place of the usual
        self.late = {}          # files changed or added after everything was signed; None: gone

    def files(self):
        size = sum(map(len, self.payload.values()))
        manifest = b"".join(
            f"{self.listed.get(n, sha(d))}  ".encode() + (n if isinstance(n, bytes) else n.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D").encode("utf-8", "surrogateescape")) + b"\n"
            for n, d in sorted(self.payload.items(), key=lambda f: f[0] if isinstance(f[0], bytes) else f[0].encode("utf-8", "surrogateescape")) if self.listed.get(n, "") is not None)
        info = {"Bag-Software-Agent": "invented", "Payload-Oxum": f"{size}.{len(self.payload)}", "Witnessmark-Format": str(self.form)} | self.info
        tags = {"bagit.txt": BAGIT, "bag-info.txt": "".join(f"{k}: {v}\n" for k, v in info.items() if v is not None).encode(),
                "manifest-sha256.txt": manifest + self.more} | self.tags
        tags = {n: d for n, d in tags.items() if d is not None}
        if "tagmanifest-sha256.txt" not in self.tags:
            tags["tagmanifest-sha256.txt"] = "".join(f"{sha(d)}  {n}\n" for n, d in sorted(tags.items())).encode()
        sealed = {"bag": sha(tags.get("tagmanifest-sha256.txt", b"")), "packer": self.key.public} | {k: v for k, v in self.seal.items() if k in ("bag", "packer")}
        if "packer.json" not in self.tags:
            tags["packer.json"] = rfc8785.dumps(sealed | {"sig": self.key.sign(sealed)} | self.seal)
        files = {**self.payload, **tags, **self.late}
        return {n: d for n, d in files.items() if d is not None}

    def folder(self, out):
        for name, data in self.files().items():
            path = pathlib.Path(os.fsdecode(os.path.join(os.fsencode(out), os.fsencode(name))))
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        return out

    def members(self, Member, base="pack/"):
        encode = lambda n: n if isinstance(n, bytes) else n.encode("utf-8", "surrogateescape")
        return [Member(base.encode() + encode(n), d) for n, d in sorted(self.files().items(), key=lambda f: encode(f[0]))]


def read(folder):
    """Payload of a pack that was made by the program."""
    folder = pathlib.Path(folder)
    payload = {p.relative_to(folder).as_posix(): p.read_bytes() for p in (folder / "data").rglob("*") if p.is_file()}
    info = dict(row.split(": ", 1) for row in (folder / "bag-info.txt").read_text().splitlines())
    return payload, int(info["Witnessmark-Format"])


def chain_of(payload):
    """Name of the chain's file, its lines, aircraft and author."""
    name = next(n for n in payload if n.startswith("data/record/"))
    lines = payload[name].split(b"\n")[:-1]
    return name, lines, [json.loads(raw)["entry"] for raw in lines]
