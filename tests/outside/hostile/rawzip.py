"""Zip files to the byte (PKWARE APPNOTE 6.3.10), with every field open to a lie."""
import struct
import zlib


class Member(dict):
    """One member; keys override what its two headers say. `l` in front of a key: only the local header."""

    def __init__(self, name, data=b"", **said):
        super().__init__(said)
        self.name = name if isinstance(name, bytes) else name.encode()
        self.data = data
        self.offset = 0

    def field(self, key, usual, local):
        return self.get(("l" if local else "c") + key, self.get(key, usual))

    def header(self, local):
        f = lambda key, usual: self.field(key, usual, local)
        name, extra = f("name", self.name), f("extra", b"")
        common = struct.pack("<HHHHHIIIHH", f("needs", 20), f("flags", 0 if self.name.isascii() else 0x800), f("method", 0),
                             0, 0x21, f("crc", zlib.crc32(self.data)), f("packed", len(self.data)), f("len", len(self.data)),
                             f("name_len", len(name)), f("extra_len", len(extra)))
        if local:
            return f("magic", b"PK\3\4") + common + name + extra
        return (f("magic", b"PK\1\2") + struct.pack("<H", f("made", 0x031E)) + common
                + struct.pack("<HHHII", len(f("comment", b"")), f("disk", 0), 0, f("attr", 0o100644 << 16), f("offset", self.offset))
                + name + extra + f("comment", b""))


def build(members, before=b"", after=b"", comment=b"", hidden=(), gap=b"", end=None, between=b"", **said):
    """`hidden` members stand in the file and not in its directory."""
    body = bytearray(before)
    for member in [*members, *hidden]:
        member.offset = member.get("at", len(body))
        if "at" not in member:
            body += member.header(True) + member.data + member.get("tail", b"") + gap
    body += between
    start = len(body)
    directory = b"".join(m.header(False) for m in members)
    body += directory
    count = said.get("count", len(members))
    body += end or b""
    body += struct.pack("<IHHHHIIH", 0x06054B50, said.get("disk", 0), said.get("start_disk", 0), said.get("here", count), count,
                        said.get("length", len(directory)), said.get("start", start), len(comment)) + comment
    return bytes(body) + after


def end64(count, length, start, place, **said):
    """The 64-bit end record and its locator; `place` is where the record stands."""
    return (struct.pack("<IQHHIIQQQQ", 0x06064B50, said.get("size", 44), 45, 45, 0, 0, said.get("here", count), count, length, start)
            + struct.pack("<IIQI", 0x07064B50, 0, said.get("at", place), 1))
