#!/usr/bin/env python3
"""The door's shape against its snapshot: python3 bindings/ffi/api.py [--write]

Reads the Kotlin that `bindings/kotlin/generate.sh` generated (types keep their widths there) and
compares every call, record, field and way of trouble with `api.txt`. `--write` takes the present shape;
the change is then seen in review, and a line in DOOR.md says what a shell must write instead.
"""
import difflib
import re
import sys
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
SNAPSHOT = TOP / "bindings/ffi/api.txt"


def shape(kotlin: str) -> list[str]:
    text = re.sub(r"/\*.*?\*/", "", kotlin, flags=re.S).replace("`", "")
    text = re.sub(r"\bkotlin\.|\bwitnessmark\.door\.", "", text)
    told = []
    holder = ""
    # the blocks of the file: from one declaration at the margin to the next
    for block in re.split(r"\n(?=(?:public |open |data |sealed |internal |private )*(?:class|interface|object)\b)", text):
        flat = re.sub(r"\s+", " ", block)
        if found := re.match(r"public interface (\w+)Interface \{", flat):
            for call in re.findall(r"fun (\w+\([^)]*\)(?:: [\w<>?, ]+?)?)(?= (?:@Throws|fun|companion|\}))", flat):
                told.append(f"{found[1]}.{call}")
        elif found := re.match(r"open class (\w+): ?Disposable", flat):
            holder = found[1]
            for call in re.findall(r"@Throws\(Trouble::class\) fun (\w+\([^)]*\): %s) \{" % holder, flat):
                told.append(f"{holder}::{call}")
        elif found := re.match(r"data class (\w+) \(([^)]*)\)", flat):
            for field in re.split(r",(?= va[lr] )", found[2]):
                told.append(f"record {found[1]}.{field.strip().split(' ', 1)[1].strip()}")
        elif found := re.match(r"sealed class (\w+)", flat):
            for way in re.findall(r"(?:data )?class (\w+)\( ?([^)]*)\)", flat):
                fields = ", ".join(re.findall(r"va[lr] (\w+: [\w<>?]+)", way[1]))
                told.append(f"one of {found[1]}: {way[0]}({fields})")
        # functions that belong to no class follow the last converter
        for call in re.findall(r"\n {2,12}(?:@Throws\(Trouble::class\) )?fun (\w+\([^)]*\): [\w<>?, ]+) \{\n\s+return (?:FfiConverter|uniffi)", block):
            if " " in call and not call.startswith(("lift(", "lower(", "read(")) and holder and f": {holder}" not in call:
                if re.match(r"(?:public |internal )?(?:object|interface|open class|class|data class)", flat) and "override" not in call:
                    told.append(f"free {call}")
    return [re.sub(r"\s+", " ", line) for line in told]


def main() -> int:
    generated = next((TOP / "target/door/kotlin/witnessmark/door").glob("*.kt"))
    now = sorted(set(shape(generated.read_text())))
    if "--write" in sys.argv:
        SNAPSHOT.write_text("\n".join(now) + "\n")
    before = SNAPSHOT.read_text().splitlines()
    changes = list(difflib.unified_diff(before, now, "api.txt", "the door now", lineterm="", n=0))
    for line in changes:
        print(line)
    if len(now) < 300:
        print(f"only {len(now)} items were read: the generated Kotlin has another shape")
        return 1
    if changes:
        print("If this is meant: python3 bindings/ffi/api.py --write, and a line in DOOR.md.")
        return 1
    print(f"the door has the {len(now)} items of api.txt")
    return 0


if __name__ == "__main__":
    sys.exit(main())
