#!/usr/bin/env python3
"""Writes core/fuzz/seeds: a few small inputs for each parser, made here and from the golden record.
Run from the repository's root with Pillow; openssl makes the timestamp query."""
import io
import json
import pathlib
import struct
import subprocess
import wave
import zipfile

from PIL import Image

ROOT = pathlib.Path(__file__).resolve().parents[2]
OUT = ROOT / "core/fuzz/seeds"


def put(target, name, data):
    (OUT / target).mkdir(parents=True, exist_ok=True)
    (OUT / target / name).write_bytes(data if isinstance(data, bytes) else data.encode())


def picture(form, **how):
    out = io.BytesIO()
    image = Image.linear_gradient("L").resize((24, 16)).convert("RGB")
    image.save(out, form, **how)
    return out.getvalue()


lines = (ROOT / "fixtures/record/lines.jsonl").read_bytes().splitlines()
for at in (0, 3, 12, 13, 25, 40):
    put("line", f"golden-{at}", lines[at])
    put("canonical", f"golden-{at}", json.dumps(json.loads(lines[at])["entry"], sort_keys=True, separators=(",", ":"), ensure_ascii=False))
put("canonical", "escapes", '{"\\n":"\\u20ac\\"\\\\","a":[null,true,0,-1,9007199254740991]}')
for path in (ROOT / "fixtures/record/notebooks/owner/slips").glob("*/*"):
    put("slip", path.name[:8], path.read_bytes())

exif = Image.Exif()
exif[0x10F], exif[0x112] = "Invented", 6
exif.get_ifd(0x8769).update({0x9003: "2026:05:03 09:10:00", 0x9011: "+02:00", 0x9291: "25"})
exif.get_ifd(0x8825).update({1: "N", 2: (54.0, 30.0, 1.5), 3: "E", 4: (10.0, 0.0, 0.0)})
block = exif.tobytes()
put("exif_block", "usual", block.removeprefix(b"Exif\0\0"))
jpegs = {"plain": picture("JPEG"), "progressive": picture("JPEG", progressive=True), "exif": picture("JPEG", exif=exif)}
for name, data in jpegs.items():
    put("jpeg_segments", name, data[3:])
    for target in ("image_head", "image_file", "strip_jpeg"):
        put(target, name, data)
for form in ("PNG", "WEBP", "GIF", "TIFF"):
    put("image_head", form.lower(), picture(form))
    put("image_file", form.lower(), picture(form))
put("image_head", "heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0\0\0\x22meta\0\0\0\0" + b"\0\0\0\x0epitm\0\0\0\0\0\1" + b"\0\0\0\x08iloc")

sound = io.BytesIO()
with wave.open(sound, "wb") as out:
    out.setnchannels(1), out.setsampwidth(2), out.setframerate(8000)
    out.writeframes(struct.pack("<80h", *range(80)))
put("audio", "wav", sound.getvalue())
put("audio", "wav-cut", sound.getvalue()[:100])
put("audio", "adts", bytes.fromhex("fff15080017ffc") + b"\0" * 4)
put("audio", "ogg", b"OggS\0\2" + b"\0" * 20 + b"\1\x13OpusHead\1\1\0\0\x80\xbb\0\0\0\0\0")

put("pack_names", "names", "data/evidence/ab/x.jpg\ndata/../x\n/etc/x\ndata\\x\nC:x\ndata/%2e%2e/x\ndata/a\u0301\ndata/CON\ndata/a.\n~/x\ndata//x\n")
digest = "ab" * 32
put("manifest", "manifest", f"{digest}  data/a.txt\n{digest} *data/b%0Ac\n")
put("manifest", "declaration", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
put("manifest", "info", "Payload-Oxum: 12.2\nNote: one\n  two\n")
put("manifest", "fetch", "https://example.org/a 12 data/a\n")
for name, members in {"bag": {"p/bagit.txt": "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", "p/data/a.txt": "one"}, "one": {"a": ""}}.items():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for member, text in members.items():
            archive.writestr(zipfile.ZipInfo(member), text)
    put("zip_pack", name, out.getvalue())

put("layout", "small", 'name = "x"\ntitle = "X"\nedition = "1"\ndoor = "left"\n[[zone]]\ncode = "110"\nname = "belly"\nside = "none"\n[[stop]]\nkey = "a"\nname = "a"\nzones = ["110"]\n')
query = subprocess.run(["openssl", "ts", "-query", "-digest", digest, "-sha256", "-cert"], capture_output=True, check=True).stdout
put("timestamp", "query", query)
# "reply" is an answer to that query by `openssl ts`, made once as core/src/record/proof/timestamp.rs makes its authority.
put("timestamp", "refused", bytes.fromhex("30053003020102"))
put("growth_table", "crack", "date,hours,value,unit,u,method,place\n2025-01-01,10,50,mm,0.5,ruler,a\n2025-03-01,20,52,mm,0.5,ruler,a\n2025-05-01,30,55,mm,0.5,card,a\n2025-07-01,41,59,mm,0.5,ruler,a\n")
for at, text in enumerate(("crack two and a quarter inches at the left wheel fairing lower aft screw", "nothing found on the right brake\nnothing found on the right break", "oil is six and a half quarts", "733-27b4d=stop drilled; by J. Tide; reference WO 12")):
    put("draft_text", f"said-{at}", text)
put("proof_code", "code", "TLWE Z37Q GZ7W 2IZF 4LUU YH4F ELW4 6SLS M")
put("proof_code", "typed", "tlwe-z37q gz7w2izf 4luu yh4f elw4 6sls m")

# Files of packs and meetings, from the golden pack and its notebook.
pack = ROOT / "fixtures/record/notebooks/pack"
put("withheld", "golden", (pack / "data/withheld.json").read_bytes())
put("withheld", "location", json.dumps({"cut": "review", "files": [{"file": digest, "why": "location", "copy": f"data/copies/{digest}.jpg"}, {"file": digest, "why": "people"}], "uncovered": {digest: 3}}, separators=(",", ":"), sort_keys=True))
put("packer_seal", "golden", (pack / "packer.json").read_bytes())
with zipfile.ZipFile(ROOT / "fixtures/record/notebooks/finding.zip") as archive:
    for at, name in enumerate(sorted(name for name in archive.namelist() if "/proofs/" in name)):
        put("proofs", f"golden-{at}", archive.read(name))
finishes = [line for line in lines if b'"kind":"walkaround finished"' in line]
put("handed_proof", "line", json.dumps({"line": digest, "text": lines[0].decode(), "finish_text": finishes[0].decode(), "leaf": digest, "index": 0, "finish": digest, "size": 1, "root": digest, "path": [], "code": "TLWE Z37Q GZ7W 2IZF 4LUU YH4F ELW4 6SLS M"}))
put("handed_proof", "finishes", json.dumps({"author": digest, "old_finish": digest, "new_finish": digest, "old_size": 1, "new_size": 1, "old_root": digest, "new_root": digest, "path": []}))
put("notebook_toml", "golden", (ROOT / "fixtures/record/notebooks/owner/notebook.toml").read_bytes())
put("notebook_toml", "former", f'format = 1\nauthor = "{digest}"\nwho = "{digest}"\nformer = ["{digest}"]\n')
put("exchange_names", "names", "\n".join(f"v1/{name}" for name in (f"e/ab/{digest}.jpg", f"e/ab/{digest}", f"s/ab/{digest}.json", f"n/{digest}/{digest}/{digest}.proofs.json", f"n/{digest}/{digest}/0000000000-0000000041-{digest}.jsonl", "../x")))
for kind in ("condition", "event"):
    for path in sorted((ROOT / f"core/{kind}s").glob("*.toml"))[:3]:
        put(kind, path.stem, path.read_bytes())
for form in ("PNG", "WEBP"):
    put("strip_jpeg", form.lower(), picture(form))
