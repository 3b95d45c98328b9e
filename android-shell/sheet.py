#!/usr/bin/env python3
"""sheet.py FOLDER OUT.png [WIDTH]: every PNG of a folder on one sheet, by name, without any library.

Reads 8-bit RGB and RGBA, not interlaced (PNG, third edition, sections 9 and 11): what the tests write."""
import pathlib, struct, sys, zlib


def read(path):
    data = path.read_bytes()
    at, idat = 8, b""
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at:at + 8])
        body = data[at + 8:at + 8 + size]
        if kind == b"IHDR":
            w, h, depth, colour, _, _, lace = struct.unpack(">IIBBBBB", body)
        elif kind == b"IDAT":
            idat += body
        at += 12 + size
    assert depth == 8 and colour in (2, 6) and not lace, path
    n = 3 if colour == 2 else 4
    raw, rows, last = zlib.decompress(idat), [], bytearray(w * n)
    for y in range(h):
        how, row = raw[y * (w * n + 1)], bytearray(raw[y * (w * n + 1) + 1:(y + 1) * (w * n + 1)])
        if how == 1:
            for i in range(n, w * n): row[i] = (row[i] + row[i - n]) & 255
        elif how == 2:
            row = bytearray((a + b) & 255 for a, b in zip(row, last))
        elif how == 3:
            for i in range(w * n): row[i] = (row[i] + ((row[i - n] if i >= n else 0) + last[i]) // 2) & 255
        elif how == 4:
            for i in range(w * n):
                a, b, c = (row[i - n] if i >= n else 0), last[i], (last[i - n] if i >= n else 0)
                p = a + b - c
                pa, pb, pc = abs(p - a), abs(p - b), abs(p - c)
                row[i] = (row[i] + (a if pa <= pb and pa <= pc else b if pb <= pc else c)) & 255
        rows.append(row)
        last = row
    return w, h, n, rows


def small(path, width):
    w, h, n, rows = read(path)
    height = max(1, h * width // w)
    return [b"".join(bytes(rows[y * h // height][x * w // width * n:x * w // width * n + 3]) for x in range(width)) for y in range(height)]


def main():
    folder, out = pathlib.Path(sys.argv[1]), sys.argv[2]
    width = int(sys.argv[3]) if len(sys.argv) > 3 else 270
    pictures = [small(path, width) for path in sorted(folder.glob("*.png"))]
    across, gap = 8, 10
    rows = []
    for i in range(0, len(pictures), across):
        line = pictures[i:i + across]
        for y in range(max(len(p) for p in line)):
            rows.append(b"".join((p[y] if y < len(p) else b"\x60" * 3 * width) + b"\x60" * 3 * gap for p in line).ljust(across * (width + gap) * 3, b"\x60"))
        rows += [b"\x60" * across * (width + gap) * 3] * gap
    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    head = struct.pack(">IIBBBBB", across * (width + gap), len(rows), 8, 2, 0, 0, 0)
    data = zlib.compress(b"".join(b"\0" + row for row in rows), 6)
    pathlib.Path(out).write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b""))
    print(f"{len(pictures)} pictures on {out}")


main()
