"""The `picture` digest, read from its published text (core/src/evidence/picture.rs) and nothing else."""
import hashlib

FRAMES = set(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
COUNTED = FRAMES | {0xDB, 0xC4, 0xCC, 0xDD, 0xDC, 0xDA}


def picture(data):
    """SHA-256 in hex, or None."""
    if data[:2] != b"\xff\xd8":
        return None
    covered, scans, at = hashlib.sha256(), 0, 2
    in_scan = False
    while True:
        # to the next FF
        start = at
        while at < len(data) and data[at] != 0xFF:
            at += 1
        if in_scan:
            covered.update(data[start:at])
        while at + 1 < len(data) and data[at + 1] == 0xFF:
            at += 1  # fill
        if at + 1 >= len(data):
            return None
        marker = data[at + 1]
        if marker == 0x00 or 0xD0 <= marker <= 0xD7:
            if in_scan:
                covered.update(data[at : at + 2])
            at += 2
            continue
        in_scan = False
        if marker == 0x01:
            at += 2
            continue
        if marker == 0xD9:
            return covered.hexdigest() if scans else None
        if marker == 0xD8:
            return None
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        end = at + 2 + length
        if at + 4 > len(data) or length < 2 or end > len(data):
            return None
        segment = data[at:end]
        if marker in COUNTED or (marker == 0xEE and segment[4:9] == b"Adobe"):
            covered.update(segment)
        if marker == 0xDA:
            scans += 1
            in_scan = True
        at = end
