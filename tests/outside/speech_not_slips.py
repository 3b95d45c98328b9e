"""Makes core/words/en_not_slips.toml: English words one slip of the keys away from a trade word.

Source of the words: SCOWL, Debian package wamerican-small (/usr/share/dict/american-english-small).
Without --write it checks that the file holds every such word and exits non-zero if it does not.
"""
import argparse
import re
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def near(a, b, bound):
    """Optimal string alignment distance within bound."""
    if abs(len(a) - len(b)) > bound:
        return False
    before, row = None, list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        last, row, older = row, [i] + [0] * len(b), before
        for j, y in enumerate(b, 1):
            row[j] = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (x != y))
            if older and i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                row[j] = min(row[j], older[j - 2] + 1)
        before = last
        if min(row) > bound:
            return False
    return row[-1] <= bound


def trade():
    words = tomllib.loads((ROOT / "core/words/en.toml").read_text())
    phrases = [p for said in words["conditions"].values() for p in said]
    for cue in ("part", "left", "right"):
        phrases += words["cues"][cue]
    phrases += [p for unit in words["units"] for p in unit["said"]]
    for file in (ROOT / "core/layouts").glob("*.toml"):
        for zone in tomllib.loads(file.read_text())["zone"]:
            phrases += zone["spoken"] + [zone["name"]]
            for part in zone.get("part", []):
                phrases += part.get("spoken", []) + [part["name"]]
    for file in (ROOT / "core/conditions").glob("[a-z]*.toml"):
        data = tomllib.loads(file.read_text())
        phrases += data.get("spoken", []) + [data["title"]]
    return {w for p in phrases for w in re.findall(r"[a-z]+", p.lower()) if len(w) >= 4}


def main():
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--bin", help="not used: this checks data")
    args.add_argument("--words", default="/usr/share/dict/american-english-small")
    args.add_argument("--write", action="store_true")
    args = args.parse_args()
    if not Path(args.words).exists():
        print("SKIPPED: no word list (Debian package wamerican-small)")
        print("0 passed, 0 failed, 1 skipped")
        return 0
    known = trade()
    by_first = {}
    for word in known:
        by_first.setdefault(word[0], []).append(word)
    english = {w for w in Path(args.words).read_text().split() if re.fullmatch(r"[a-z]{4,20}", w)}
    close = sorted(
        w
        for w in english - known
        if any(near(w, t, 2 if len(w) >= 8 else 1) for t in by_first.get(w[0], []))
    )
    target = ROOT / "core/words/en_not_slips.toml"
    if args.write:
        lines = [
            "# English words that are one slip of the keys away from a trade word, and are no slips.",
            "# Made by tests/outside/speech_not_slips.py from SCOWL (Debian package wamerican-small).",
            "words = [",
        ]
        row = " "
        for word in close:
            if len(row) + len(word) > 110:
                lines.append(row)
                row = " "
            row += f' "{word}",'
        target.write_text("\n".join(lines + [row, "]", ""]))
    have = set(tomllib.loads(target.read_text())["words"])
    lost = [w for w in close if w not in have]
    print(f"{len(close)} English words are close to {len(known)} trade words; {len(lost)} not in the list {lost[:10]}")
    print(f"{len(close) - len(lost)} passed, {len(lost)} failed")
    return 1 if lost else 0


sys.exit(main())
