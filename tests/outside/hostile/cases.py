"""The cases: name, how it is made, and what is to happen. Invented by reading the standards: APPNOTE
6.3.10 (zip), RFC 8493 section 5 (BagIt, security), "Naming Files, Paths, and Namespaces" (Windows),
UAX #15 (normal forms), CWE-22, CWE-59, CWE-409; and by reading this project's own format."""
import json
import os
import struct
import zlib

import rfc8785

from bag import Bag, Key, chain_of, line, sha
from rawzip import Member, build, end64

OTHER = Key(7)
NAMES = {
    "up and out": "data/../../evil", "up at the end": "data/..", "up, then down": "data/a/../../../evil", "absolute": "/tmp/evil",
    "backslash up": "data\\..\\..\\evil", "backslash": "data\\evil", "drive": "C:/evil", "drive, relative": "c:evil", "share": "\\\\server\\share\\evil",
    "device path": "\\\\?\\C:\\evil", "home": "~/evil", "encoded up": "data/%2e%2e/%2e%2e/evil", "encoded slash": "data/..%2f..%2fevil",
    "twice encoded": "data/%252e%252e/evil", "wide dots": "data/\uff0e\uff0e/evil", "one dot leader": "data/\u2024\u2024/evil", "division slash": "data/..\u2215evil",
    "fullwidth slash": "data/..\uff0fevil", "trailing dot": "data/evil.", "trailing space": "data/evil ", "dots and a space": "data/.. /evil", "three dots": "data/.../evil",
    "NUL": "data/evil\0.jpg", "line feed": "data/evil\nx", "carriage return": "data/evil\rx", "delete": "data/evil\x7f", "escape": "data/\x1b[2Jevil",
    "stream": "data/evil:stream", "device": "data/CON", "device with extension": "data/nul.txt", "printer": "data/LPT1.jpg", "superscript device": "data/COM\u00b9",
    "option": "data/-rf", "hidden": "data/.bashrc", "empty part": "data//evil", "dot part": "data/./evil", "right to left": "data/\u202egpj.exe",
    "zero width": "data/ev\u200bil", "very long": "data/" + "a" * 255, "long path": "data/" + "/".join(["a" * 30] * 7) + "/" + "b" * 60, "deep": "data/" + "/".join("abcdefghijklm"),
    "wildcard": "data/e*il", "quote": "data/e\"vil", "bar": "data/e|vil",
}


def generate(payload, form, page):
    """Yields (name, kind, maker, wanted); maker writes to a path and gives it back."""
    good = lambda: Bag(payload, OTHER, form)
    name, lines, entries = chain_of(payload)
    aircraft, author = name.split("/")[2], name.split("/")[3][:-6]
    photo = next(n for n in payload if n.startswith("data/evidence/") and n.endswith(".jpg"))
    slip = next(n for n in payload if n.startswith("data/slips/"))

    def folder(what, change, wanted="refused"):
        def make(out):
            bag = good()
            after = change(bag)
            bag.folder(out)
            if after:
                after(out)
            return out
        return what, make, wanted

    def zipped(what, change=None, wanted="refused", base="pack/", **said):
        def make(out):
            bag = good()
            members = None
            if change:
                members = change(bag)
            out = out.with_suffix(".zip")
            out.write_bytes(build(members or bag.members(Member, base), **said))
            return out
        return what, make, wanted

    def raw(what, data, wanted="refused"):
        def make(out):
            out = out.with_suffix(".zip")
            out.write_bytes(data() if callable(data) else data)
            return out
        return what, make, wanted

    def setting(**said):
        def change(bag):
            for key, value in said.items():
                getattr(bag, key).update(value)
        return change

    # --- names, in the zip and its manifest, and in the manifest alone ---
    for what, bad in NAMES.items():
        yield zipped(f"name in a zip: {what}", lambda bag, bad=bad: bag.payload.update({bad: b"evil"}) and None)
        yield folder(f"name in a manifest: {what}", lambda bag, bad=bad: setattr(bag, "more", f"{sha(b'evil')}  {bad}\n".encode()))
    for what in ["backslash", "trailing dot", "trailing space", "line feed", "device", "option", "hidden", "wide dots", "right to left", "stream"]:
        yield folder(f"name in a folder: {what}", setting(payload={NAMES[what]: b"evil"}))
    yield folder("name in a folder: not UTF-8", setting(payload={os.fsdecode(b"data/ev\xffil"): b"evil"}))
    for what, bad in {"absolute": "/pack/", "up": "../", "up and down": "a/../", "drive": "C:/", "backslash": "a\\b/", "two deep": "a/b/", "hidden": ".git/", "device": "con/"}.items():
        yield zipped(f"folder of a zip: {what}", base=bad)
    for what, (one, two) in {"case": ("data/evil.jpg", "data/EVIL.jpg"), "two forms": ("data/N\u00fa\u00f1ez", "data/Nu\u0301n\u0303ez"),
                             "a file where a folder is": ("data/evil", "data/evil/x"), "folders in two cases": ("data/a/x", "data/A/y")}.items():
        yield zipped(f"two names for one file: {what}", setting(payload={one: b"1", two: b"2"}))
        if "where" not in what:
            yield folder(f"two names for one file, folder: {what}", setting(payload={one: b"1", two: b"2"}))
    yield zipped("original under an upper-case name too", setting(payload={photo.upper().replace("DATA/EVIDENCE", "data/evidence"): payload[photo]}))

    # --- links and devices in a folder ---
    def after(do):
        return lambda bag: do
    yield folder("link in place of an original", after(lambda out: ((out / photo).unlink(), (out / photo).symlink_to("/etc/passwd"))))
    yield folder("link to a folder", after(lambda out: (out / "data/evil").symlink_to("/etc")))
    yield folder("dangling link", after(lambda out: (out / "data/evil").symlink_to("/no/such")))
    yield folder("link in a circle", after(lambda out: (out / "data/evil").symlink_to(".")))
    yield folder("bagit.txt is a link", after(lambda out: ((out / "bagit.txt").rename(out.parent / "b.txt"), (out / "bagit.txt").symlink_to(out.parent / "b.txt"))))
    yield folder("a pipe", after(lambda out: os.mkfifo(out / "data/evil")))
    if os.geteuid() == 0:
        yield folder("a device", after(lambda out: os.mknod(out / "data/evil", 0o020666, os.makedev(1, 5))))
    yield folder("folders without end", after(lambda out: os.makedirs(str(out / "data") + "/d" * 120)))

    # --- links and devices in a zip, by their attributes ---
    for what, mode in {"link": 0o120777, "character device": 0o020666, "block device": 0o060666, "pipe": 0o010644, "socket": 0o140644, "folder that is a file": 0o040755}.items():
        yield zipped(f"zip attributes: {what}", lambda bag, mode=mode: [*bag.members(Member), Member("pack/data/evil", b"/etc/passwd", attr=mode << 16)])
        yield zipped(f"zip attributes on an original: {what}", lambda bag, mode=mode: [m if not m.name.endswith(photo.encode()) else Member(m.name, m.data, attr=mode << 16) for m in bag.members(Member)])
    yield zipped("zip attributes: a file that is a folder", lambda bag: [*bag.members(Member), Member("pack/data/evil/", b"", attr=0o100644 << 16)])

    # --- zip structure ---
    last = lambda bag, **said: [*bag.members(Member)[:-1], (lambda m: Member(m.name, m.data, **said))(bag.members(Member)[-1])]
    def one(**said):
        return lambda bag: last(bag, **said)
    whole = lambda: build(good().members(Member))
    yield raw("zip: nothing", b"")
    yield raw("zip: only an end", build([]))
    yield raw("zip: a picture", lambda: payload[photo])
    yield raw("zip: gzip", lambda: b"\x1f\x8b\x08\0" + whole())
    for cut in (1, 21, 22, 60, 500, 2000):
        yield raw(f"zip: {cut} bytes cut off", lambda cut=cut: whole()[:-cut])
    yield raw("zip: its start cut off", lambda: whole()[40:])
    yield raw("zip: a piece cut out", lambda: whole()[:300] + whole()[400:])
    yield zipped("zip: something in front", before=b"MZ" + b"\0" * 500)
    yield raw("zip: something in front, offsets not moved", lambda: b"#!/bin/sh\nexit\n" + whole())
    yield zipped("zip: something behind", after=b"\0")
    yield zipped("zip: a comment", comment=b"hello")
    yield zipped("zip: a comment that is an end record", comment=build([]))
    yield raw("zip: two zips in one", lambda: whole() + whole())
    yield zipped("zip: room between members", gap=b"\0" * 4)
    yield zipped("zip: bytes before the directory", between=b"evil" * 10)
    yield zipped("zip: a member that is in no directory", hidden=[Member("pack/data/evil", b"evil")])
    yield zipped("zip: the same member twice", lambda bag: (lambda m: [*m, Member(m[0].name, b"evil")])(bag.members(Member)))
    yield zipped("zip: two names for one place", lambda bag: (lambda m: [*m, Member("pack/data/evil", m[0].data, at=0)])(bag.members(Member)))
    yield zipped("zip: a member inside another", lambda bag: (lambda m: [*m, Member("pack/data/evil", b"", at=50)])(bag.members(Member)))
    for what, said in {
        "encrypted": {"flags": 1}, "strongly encrypted": {"flags": 0x41}, "masked directory": {"flags": 0x2000}, "AES by its extra field": {"extra": struct.pack("<HHHHBH", 0x9901, 7, 2, 0x4541, 3, 0)},
        "patched data": {"flags": 0x20}, "size only after it": {"flags": 8}, "size only after it, and nothing in front": {"flags": 8, "lcrc": 0, "lpacked": 0, "llen": 0},
        "compressed by claim": {"method": 8}, "bzip2 by claim": {"method": 12}, "LZMA by claim": {"method": 14}, "Zstandard by claim": {"method": 93}, "unknown method": {"method": 77}, "AES method": {"method": 99},
        "longer than it is": {"len": 10 ** 6, "packed": 10 ** 6}, "4 GB less one": {"len": 2 ** 32 - 2, "packed": 2 ** 32 - 2}, "shorter than it is": {"len": 3, "packed": 3}, "unpacks to a gigabyte": {"len": 2 ** 30},
        "its sum is wrong": {"crc": 1}, "sum differs in its own header": {"lcrc": 1}, "size differs in its own header": {"llen": 5, "lpacked": 5}, "method differs in its own header": {"lmethod": 8},
        "name differs in its own header": {"lname": b"pack/evil"}, "flags differ in its own header": {"lflags": 1}, "own header is none": {"lmagic": b"PK\3\5"}, "directory line is none": {"cmagic": b"PK\1\3"},
        "in another part": {"disk": 3}, "name longer than the file": {"name_len": 60000}, "extra longer than the file": {"extra_len": 60000}, "extra field cut short": {"extra": b"\1\0\x40\0ab"},
        "extra field of two bytes": {"extra": b"\1\0"}, "second name in an extra field": {"extra": struct.pack("<HHBI", 0x7075, 9, 1, 0) + b"evil"}, "a comment of its own": {"ccomment": b"x" * 100},
        "64-bit size missing": {"len": 2 ** 32 - 1, "packed": 2 ** 32 - 1}, "64-bit size lies": {"clen": 2 ** 32 - 1, "cpacked": 2 ** 32 - 1, "cextra": struct.pack("<HHQQ", 1, 16, 2 ** 60, 2 ** 60)},
        "64-bit size wraps": {"clen": 2 ** 32 - 1, "cpacked": 2 ** 32 - 1, "cextra": struct.pack("<HHQQ", 1, 16, 2 ** 64 - 1, 2 ** 64 - 1)}, "64-bit offset lies": {"coffset": 2 ** 32 - 1, "cextra": struct.pack("<HHQ", 1, 8, 2 ** 63)},
        "two 64-bit fields": {"cextra": struct.pack("<HHQ", 1, 8, 1) * 2}, "offset past the end": {"offset": 2 ** 31}, "name not UTF-8": {"cname": b"pack/ev\xffil", "lname": b"pack/ev\xffil", "flags": 0x800}, "name in an old code page": {"cname": b"pack/ev\x82l", "lname": b"pack/ev\x82l", "flags": 0},
        "no name": {"cname": b"", "lname": b""},
    }.items():
        yield zipped(f"zip member: {what}", one(**said))
    def deflated(bag, data, **said):
        packed = zlib.compressobj(9, zlib.DEFLATED, -15)
        small = packed.compress(data) + packed.flush()
        return [*bag.members(Member), Member("pack/data/evil", small, method=8, crc=zlib.crc32(data), len=len(data), **said)]
    yield zipped("bomb: 50 MB of zeros, compressed", lambda bag: deflated(bag, b"\0" * (50 << 20)))
    yield zipped("bomb: compressed, and said to be small", lambda bag: [*bag.members(Member), Member("pack/data/evil", zlib.compress(b"\0" * (10 << 20)), method=8, len=10)])
    def overlapping(bag):
        # One kernel, quoted by many directory lines (D. Fifield, "A better zip bomb", 2019).
        m = bag.members(Member)
        return [*m, *[Member(f"pack/data/{n}", m[0].data, at=0) for n in range(2000)]]
    yield zipped("bomb: two thousand members over one", overlapping)
    yield zipped("bomb: a zip in the zip", lambda bag: bag.payload.update({"data/inner.zip": build([Member("x", b"\0" * 10 ** 6)])}) and None, "itemised")
    yield zipped("a million members by claim", count=0xFFFF, length=10 ** 6 * 46)
    yield raw("100,001 members", lambda: many(good().members(Member)))
    yield raw("a million members, 64-bit, nothing behind the claim", lambda: (lambda w: w[:-22] + end64(10 ** 6, 46 * 10 ** 6, 0, len(w) - 22) + w[-22:])(build(good().members(Member), count=0xFFFF)))
    for what, said in {"counts one less": {"count": 3}, "counts one more": {"count": 60}, "counts differ": {"here": 1}, "several parts": {"disk": 1, "here": 1}, "directory in another part": {"start_disk": 1},
                       "directory too long": {"length": 10 ** 6}, "directory too short": {"length": 46}, "directory elsewhere": {"start": 5}, "directory past the end": {"start": 2 ** 32 - 2}, "64-bit and no such record": {"start": 2 ** 32 - 1}}.items():
        yield zipped(f"zip end: {what}", **said)
    def sixty_four(**said):
        def data():
            plain = build(good().members(Member))
            count, length, start = struct.unpack("<HII", plain[-12:-2])
            return plain[:-22] + end64(said.pop("count", count), said.pop("length", length), said.pop("start", start), len(plain) - 22, **said) + plain[-22:]
        return data
    for what, said in {"another count": {"count": 2}, "another start": {"start": 0}, "another length": {"length": 2 ** 63}, "its record elsewhere": {"at": 0}, "its record longer": {"size": 4000}, "two counts": {"here": 1}}.items():
        yield raw(f"zip end, 64-bit: {what}", sixty_four(**dict(said)))
    yield zipped("a file beside the pack's folder", lambda bag: [*bag.members(Member), Member("evil", b"x")])
    yield zipped("two packs in one zip", lambda bag: sorted([*bag.members(Member), *bag.members(Member, "two/")], key=lambda m: m.name))
    yield zipped("a folder with content", lambda bag: [*bag.members(Member), Member("pack/data/evil/", b"evil", attr=0o40755 << 16)])
    yield zipped("a folder that leads out", lambda bag: [*bag.members(Member), Member("pack/../../evil/", b"", attr=0o40755 << 16)])

    # --- the bag ---
    for what, tag in {"none": None, "empty": b"", "version 2.0": b"BagIt-Version: 2.0\nTag-File-Character-Encoding: UTF-8\n", "version 0.97": b"BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n",
                      "UTF-16": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-16\n", "with a byte order mark": b"\xef\xbb\xbfBagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
                      "a third line": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\nx: y\n", "bytes": bytes(range(256)), "two megabytes": b"BagIt-Version: 1.0\n" * 110_000}.items():
        yield folder(f"bagit.txt: {what}", setting(tags={"bagit.txt": tag}))
    yield folder("fetch.txt", setting(tags={"fetch.txt": b"https://example.org/evil 4 data/evil\n"}))
    yield folder("fetch.txt, empty", setting(tags={"fetch.txt": b""}))
    import hashlib
    for word in ["md5", "sha1", "sha512"]:
        listed = "".join(f"{hashlib.new(word, d).hexdigest()}  {n}\n" for n, d in sorted(payload.items())).encode()
        yield folder(f"only {word}", lambda bag, word=word, listed=listed: bag.tags.update({"manifest-sha256.txt": None, f"manifest-{word}.txt": listed}))
        yield folder(f"{word} beside it, wrong", lambda bag, word=word, listed=listed: bag.tags.update({f"manifest-{word}.txt": listed.replace(b"a", b"b")}))
    yield folder("a manifest of an unknown kind", setting(tags={"manifest-blake3.txt": b"00  data/x\n"}))
    rows = lambda: good().files()["manifest-sha256.txt"]
    for what, text in {"none": None, "empty": b"", "one line less": lambda: rows().split(b"\n", 1)[1], "one file more": lambda: rows() + b"0" * 64 + b"  data/nothing\n", "one line twice": lambda: rows() + rows().split(b"\n")[0] + b"\n",
                       "digests swapped": lambda: rows().replace(sha(payload[photo]).encode(), sha(payload[slip]).encode()), "star in front": lambda: rows().replace(b"  data/", b" *data/"), "dot in front": lambda: rows().replace(b"  data/", b"  ./data/"),
                       "digest too short": lambda: rows()[1:], "a tag file in it": lambda: rows() + sha(b"x").encode() + b"  bagit.txt\n", "rubbish": b"\xff\xfe\0rubbish", "not UTF-8": lambda: rows() + b"0" * 64 + b"  data/\xff\n",
                       "a line of a megabyte": lambda: rows() + b"0" * 64 + b"  data/" + b"a" * (1 << 20) + b"\n"}.items():
        yield folder(f"manifest: {what}", lambda bag, text=text: bag.tags.update({"manifest-sha256.txt": text() if callable(text) else text}))
    for what, oxum in {"one byte more": lambda p: f"{sum(map(len, p.values())) + 1}.{len(p)}", "one file less": lambda p: f"{sum(map(len, p.values()))}.{len(p) - 1}", "words": lambda p: "many.some", "negative": lambda p: "-1.-1", "huge": lambda p: "9" * 40 + ".1"}.items():
        yield folder(f"Payload-Oxum: {what}", lambda bag, oxum=oxum: bag.info.update({"Payload-Oxum": oxum(payload)}))
    yield folder("bag-info.txt is no list", setting(tags={"bag-info.txt": b"no colon here\n"}))
    yield folder("bag-info.txt starts with a continuation", setting(tags={"bag-info.txt": b"  x\n"}))
    for what, said in {"newer": "99", "no number": "one", "negative": "-1", "far too large": "9" * 30, "none": None}.items():
        yield folder(f"format: {what}", setting(info={"Witnessmark-Format": said}), "refused" if said else "itemised")
    yield folder("bag-info.txt: none", setting(tags={"bag-info.txt": None}), "itemised")
    yield folder("format: twice, the second newer", lambda bag: bag.tags.update({"bag-info.txt": bag.files()["bag-info.txt"] + b"Witnessmark-Format: 99\n"}))
    yield folder("format: newer, in another case", lambda bag: bag.tags.update({"bag-info.txt": bag.files()["bag-info.txt"].replace(f"Witnessmark-Format: {form}".encode(), b"WITNESSMARK-FORMAT: 99")}))
    yield folder("tag manifest: none", setting(tags={"tagmanifest-sha256.txt": None}))
    yield folder("tag manifest: empty", setting(tags={"tagmanifest-sha256.txt": b""}))
    yield folder("tag manifest: names an original", lambda bag: bag.tags.update({"tagmanifest-sha256.txt": bag.files()["tagmanifest-sha256.txt"] + f"{sha(payload[photo])}  {photo}\n".encode()}))
    yield folder("tag manifest: without the manifest", lambda bag: bag.tags.update({"tagmanifest-sha256.txt": b"".join(r + b"\n" for r in bag.files()["tagmanifest-sha256.txt"].splitlines() if b" manifest" not in r)}))
    yield folder("a tag file that is not listed", setting(late={"evil.txt": b"evil"}))
    yield folder("a payload file that is not listed", setting(late={"data/evil.txt": b"evil"}))
    yield folder("a tag folder that is not listed", setting(late={"evil/evil.sh": b"evil"}))
    yield folder("an original gone", setting(late={photo: None}))
    yield folder("an original changed", setting(late={photo: payload[photo][:-1] + b"\0"}))
    yield folder("an original emptied", setting(late={photo: b""}))
    yield folder("an original longer", setting(late={photo: payload[photo] + b"\0"}))
    yield folder("the record changed, its manifest too, not its signature", lambda bag: bag.payload.update({name: payload[name].replace(b"N0TEST", b"N0EVIL")}))

    # --- the packer's seal ---
    for what, said in {"none": {"tags": {"packer.json": None}}, "empty": {"tags": {"packer.json": b""}}, "no object": {"tags": {"packer.json": b"[]"}}, "nested a million times": {"tags": {"packer.json": b"[" * 1_000_000}},
                       "another key": {"seal": {"packer": Key(9).public}}, "wrong signature": {"seal": {"sig": "0" * 128}}, "signature too short": {"seal": {"sig": "00"}}, "upper-case signature": {"seal": {"sig": "AB" * 64}},
                       "another bag": {"seal": {"bag": "0" * 64}}, "one field more": {"seal": {"evil": 1}}, "a key of small order": {"seal": {"packer": "01" + "00" * 31}}, "a key that is no point": {"seal": {"packer": "f" * 64}},
                       "three megabytes": {"tags": {"packer.json": b" " * (3 << 20)}}}.items():
        yield folder(f"packer.json: {what}", setting(**said))
    yield folder("packer.json: not canonical", lambda bag: bag.late.update({"packer.json": json.dumps(json.loads(bag.files()["packer.json"]), indent=1).encode()}))

    # --- the record ---
    def record(data, where=name):
        return lambda bag: (bag.payload.pop(name), bag.payload.update({where: data() if callable(data) else data}))[0] and None
    body = payload[name]
    yield folder("record: another aircraft's folder", record(body, name.replace(aircraft, "ab" * 32)))
    yield folder("record: another author's file", record(body, name.replace(author, "cd" * 32)))
    yield folder("record: folder in upper case", record(body, name.replace(aircraft, aircraft.upper())))
    yield folder("record: loose captures", lambda bag: bag.payload.update({f"data/record/loose/{OTHER.public}.jsonl": line(OTHER, 0, "0" * 64, "written", {"text": "x", "walkaround": None})[0] + b"\n"}), "itemised")
    yield folder("record: deeper folder", record(body, name.replace("data/record/", "data/record/x/")))
    yield folder("record: no folder", record(body, f"data/record/{author}.jsonl"))
    yield folder("record: none at all", lambda bag: bag.payload.pop(name) and None)
    yield folder("record: empty", record(b""))
    yield folder("record: rubbish", record(bytes(range(256)) * 10))
    yield folder("record: zeros", record(b"\0" * 5000))
    yield folder("record: last line unfinished", record(body[:-30]), "either")
    yield folder("record: carriage returns", record(body.replace(b"\n", b"\r\n")))
    yield folder("record: byte order mark", record(b"\xef\xbb\xbf" + body))
    yield folder("record: empty lines between", record(body.replace(b"\n", b"\n\n")))
    yield folder("record: a space in a line", record(body.replace(b'"body":', b'"body": ', 1)))
    yield folder("record: a key twice", record(body.replace(b'{"entry":{', b'{"entry":{"kind":"x",', 1)))
    yield folder("record: lone surrogate", record(body.replace(b"N0TEST", b"N0\\ud800")))
    yield folder("record: a fraction", record(body.replace(b'"seq":0', b'"seq":0.0', 1)))
    yield folder("record: a huge number", record(body.replace(b'"seq":0', b'"seq":18446744073709551616', 1)))
    yield folder("record: nested ten thousand deep", record(b'{"entry":' + b"[" * 10_000 + b"]" * 10_000 + b',"sig":""}\n'))
    yield folder("record: a line of 70 KiB", record(lambda: body + line(OTHER, 0, "0" * 64, "written", {"text": "x" * 70_000})[0] + b"\n"))
    yield folder("record: a line of 20 MB", record(lambda: body + b"x" * (20 << 20) + b"\n"))
    yield folder("record: lines in another order", record(b"\n".join([*lines[1:], lines[0]]) + b"\n"), "either")
    yield folder("record: a line twice", record(body + lines[-1] + b"\n"), "either")
    yield folder("record: first line gone", record(b"\n".join(lines[1:]) + b"\n"), "either")
    yield folder("record: a middle line gone", record(b"\n".join(lines[:2] + lines[3:]) + b"\n"), "either")
    yield folder("record: a line changed", record(body.replace(b"N0TEST", b"N0EVIL")))
    yield folder("record: a signature changed", record(body.replace(b'"sig":"', b'"sig":"00')))
    yield folder("record: signed by another", record(body + line(OTHER, len(lines), sha(lines[-1]), "written", {"text": "evil"}, aircraft, author=author)[0] + b"\n"))
    opened = {"format": form, "nonce": "00" * 16, "who": None}
    def own(*more, where=None):
        """A chain under the hostile packer's own key, each line from (kind, body, fields)."""
        raws, prev, aid = [], "0" * 64, "0" * 64
        for seq, (kind, content, said) in enumerate([("chain opened", opened, {}), *more]):
            first = line(OTHER, said.get("seq", seq), said.get("prev", prev), kind, content(aid) if callable(content) else content, said.get("aircraft", aid), **{k: v for k, v in said.items() if k not in ("seq", "prev", "aircraft")})
            raws.append(first[0])
            prev = first[1]
            aid = first[1] if seq == 0 else aid
        return lambda bag: bag.payload.update({where or f"data/record/{aid}/{OTHER.public}.jsonl": b"\n".join(raws) + b"\n"})
    note = lambda text: {"place": {}, "text": text}
    yield folder("chain: signed by a third key", own(("written", note("x"), {"signer": Key(8)})))
    yield folder("chain: does not link", own(("written", note("x"), {"prev": "ab" * 32})))
    yield folder("chain: another aircraft in the middle", own(("written", note("x"), {"aircraft": "ab" * 32})))
    yield folder("chain: a number skipped", own(("written", note("x"), {"seq": 5})), "either")
    yield folder("chain: the greatest number", own(("written", note("x"), {"seq": 2 ** 53 - 1})), "either")
    yield folder("chain: a time that is none", own(("written", note("x"), {"at": "2026-02-31T09:10:00+02:00"})))
    yield folder("chain: a time in Z", own(("written", note("x"), {"at": "2026-05-03T09:10:00Z"})))
    yield folder("chain: a field more", own(("written", note("x"), {"evil": "x"})), "either")
    yield folder("chain: a kind that nobody knows", own(("launched", {"to": "the moon"}, {})), "either")
    yield folder("chain: a finish over another root", own(("walkaround started", {"purpose": "preflight"}, {}), ("walkaround finished", {"root": "ab" * 32, "size": 2, "walkaround": "ab" * 32}, {})))
    yield folder("chain: a finish of another size", own(("walkaround started", {"purpose": "preflight"}, {}), ("walkaround finished", {"root": "ab" * 32, "size": 2 ** 50, "walkaround": "ab" * 32}, {})))
    yield folder("chain: a vouching against another", own(("vouched", {"author": author, "line": "ab" * 32, "seq": 0}, {"aircraft": aircraft}), where=f"data/record/{aircraft}/{OTHER.public}.jsonl"))
    yield folder("chain: markup in a note", own(("written", note("<script>alert(1)</script>"), {})), "either")

    # --- originals and slips ---
    def original(where, data):
        return lambda bag: bag.payload.update({where: data})
    wrong = f"data/evidence/{photo.split('/')[2]}/{photo.split('/')[3]}"
    yield folder("original: bytes are not its name's", lambda bag: bag.payload.update({wrong: payload[photo] + b"evil"}))
    yield folder("original: another file under its name", lambda bag: bag.payload.update({wrong: b"evil"}))
    yield folder("original: in another folder", lambda bag: bag.payload.update({photo.replace(f"/{photo.split('/')[2]}/", "/zz/"): bag.payload.pop(photo)}), "itemised")
    yield folder("original: nobody cites it", original(f"data/evidence/{sha(b'evil')[:2]}/{sha(b'evil')}.jpg", b"evil"), "itemised")
    yield folder("original: nobody cites it and it is not its name", original(f"data/evidence/{sha(b'evil')[:2]}/{sha(b'evil')}.jpg", b"EVIL"))
    yield folder("original: name is no digest", original("data/evidence/ab/evil.jpg", b"evil"), "itemised")
    yield folder("original: a program's extension", lambda bag: bag.payload.update({photo.replace(".jpg", ".exe"): bag.payload.pop(photo)}), "itemised")
    yield folder("original: two extensions", lambda bag: bag.payload.update({photo.replace(".jpg", ".jpg.sh"): bag.payload.pop(photo)}), "itemised")
    yield folder("original: under two extensions", lambda bag: bag.payload.update({photo.replace(".jpg", ".png"): payload[photo]}), "either")
    yield folder("slip: bytes are not its name's", lambda bag: bag.payload.update({slip: payload[slip].replace(b"name", b"nama")}))
    yield folder("slip: nobody cites it", original(f"data/slips/{sha(b'{}')[:2]}/{sha(b'{}')}.json", b"{}"), "itemised")
    big = b"{" + b" " * 200_000 + b"}"
    yield folder("slip: 200 KB", lambda bag: (bag.payload.update({f"data/slips/{sha(big)[:2]}/{sha(big)}.json": big}), own(("aircraft described", {"kind": "x", "registration": "N0X", "serial": None}, {}))(bag)) and None, "either")
    for what in ["data/keys/author.pk8", "data/notebook.toml", "data/index.sqlite", "data/evil.sh", "data/received.jsonl", "data/previews/x.jpg", "data/incoming/x"]:
        yield folder(f"a file of a notebook: {what}", original(what, b"evil"), "itemised")
    for what, data in {"no JSON": b"evil", "another shape": b'{"files":7}', "nested": b"[" * 100_000, "a copy that leads out": rfc8785.dumps({"cut": "review", "files": [{"copy": "../../evil.jpg", "file": "ab" * 32, "why": "location"}], "uncovered": {}}),
                       "a copy that is not there": rfc8785.dumps({"cut": "review", "files": [{"copy": f"data/copies/{'ab' * 32}.jpg", "file": "ab" * 32, "why": "location"}], "uncovered": {}})}.items():
        yield folder(f"withheld.json: {what}", setting(payload={"data/withheld.json": data}))
    yield folder("withheld.json: a copy that shows something else", lambda bag: bag.payload.update({
        f"data/copies/{photo.split('/')[3][:64]}.jpg": page, "data/withheld.json": rfc8785.dumps({"cut": "review", "files": [{"copy": f"data/copies/{photo.split('/')[3][:64]}.jpg", "file": photo.split('/')[3][:64], "why": "location"}], "uncovered": {}})}))
    gone = b"\n".join(lines[:2] + lines[3:]) + b"\n"
    proofs = f"data/proofs/{aircraft}-{author}.json"
    finish = next(sha(raw) for raw, entry in zip(lines, entries) if entry["kind"] == "walkaround finished")
    for what, data in {"no JSON": b"evil", "another shape": b"[]", "lead elsewhere": rfc8785.dumps({"aircraft": aircraft, "author": author, "proofs": [{"finish": finish, "index": 3, "line": sha(lines[3]), "path": ["ab" * 32] * 4}]}),
                       "a path of 100,000 steps": rfc8785.dumps({"aircraft": aircraft, "author": author, "proofs": [{"finish": finish, "index": 3, "line": sha(lines[3]), "path": ["ab" * 32] * 100_000}]})}.items():
        yield folder(f"proofs: {what}", lambda bag, data=data: bag.payload.update({name: gone, proofs: data}))
    yield folder("proofs of nobody", setting(payload={f"data/proofs/{'ab' * 32}-{'cd' * 32}.json": b"{}"}), "itemised")
    yield folder("report: markup that asks the network", lambda bag: bag.payload.update({"data/report/evil.html": b"<script src=https://example.org/x>"}), "either")


def many(members):
    """100,001 members, built quickly."""
    return build([*members, *[Member(f"pack/data/{n}", b"") for n in range(100_001)]], count=0xFFFF)
