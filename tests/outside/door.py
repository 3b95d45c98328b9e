#!/usr/bin/env python3
"""The Python door, installed as a stranger would, against the files that it reads.

Makes a wheel, installs it with pip in a fresh venv, holds its stubs and the example against PyPI mypy
(strict), and reads notebooks into a table. The table is then compared with the lines of the record
themselves, read here with nothing but `json` and `hashlib`: every row's entry is the SHA-256 of a line
of that notebook, and who, which kind and which value stand in it.
"""
import argparse
import csv
import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
import venv
from fractions import Fraction
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]


def lines(folder: Path) -> dict[str, dict]:
    """Every line of a record by its digest."""
    found = {}
    for chain in (folder / "record").glob("*/*.jsonl"):
        for line in chain.read_bytes().splitlines():
            found[hashlib.sha256(line).hexdigest()] = json.loads(line)["entry"]
    return found


def check(folder: Path, table: list[dict]) -> list[str]:
    wrong = []
    record = lines(folder)
    told = {row["entry"] for row in table}
    for row in table:
        entry = record.get(row["entry"])
        if entry is None:
            wrong.append(f"{row['entry']}: no such line in the record")
            continue
        if row["finding"] not in record or record[row["finding"]]["kind"] != "finding opened":
            wrong.append(f"{row['finding']}: is no opening of a finding")
        if row["value"] and entry["kind"] == "sighted":
            values = [(Fraction(m["value"]), m["unit"]) for m in entry["body"].get("measures", [])]
            if not any(abs(float(v) - float(row["value"])) < 1e-9 and u == row["unit"] for v, u in values):
                wrong.append(f"{row['entry']}: {row['value']} {row['unit']} is not among {values}")
    # nothing of the record is missing: every sighting that nobody took back is a row
    back = {e["body"].get("entry") for e in record.values() if e["kind"] == "retracted"}
    amended = {e["body"].get("entry") for e in record.values() if e["kind"] == "amended"}
    for digest, entry in record.items():
        if entry["kind"] == "sighted" and digest not in told and digest not in back and digest not in amended:
            wrong.append(f"{digest}: a sighting that the table does not have")
    return wrong


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--demo", help="a folder below which notebooks lie; without it the demo is made")
    arguments.add_argument("--bin", default=TOP / "target/release/witnessmark", help="the desk's program, to make the demo")
    given = arguments.parse_args()
    if not (TOP / "target/door/python/witnessmark.py").is_file():
        print("bindings/kotlin/generate.sh comes first: it makes the Python that is tested here")
        return 2
    passed = failed = 0
    with tempfile.TemporaryDirectory() as scratch:
        fresh = Path(scratch) / "venv"
        venv.create(fresh, with_pip=True)
        made = subprocess.run([sys.executable, TOP / "bindings/python/wheel.py", scratch],
                              check=True, capture_output=True, text=True).stdout.strip()
        subprocess.run([fresh / "bin/pip", "install", "-q", made], check=True)
        python, example = fresh / "bin/python", TOP / "bindings/python/history_table.py"
        typed = subprocess.run([fresh / "bin/pip", "install", "-q", "mypy==1.18.2"], capture_output=True)
        if typed.returncode == 0:
            held = subprocess.run([fresh / "bin/mypy", "--strict", example], capture_output=True, text=True)
            passed, failed = passed + (held.returncode == 0), failed + (held.returncode != 0)
            print(held.stdout.strip())
        else:
            print("SKIPPED: PyPI mypy is not installed")
        folders = sorted((TOP / "fixtures/record/notebooks").glob("*/notebook.toml"))
        demo = given.demo or os.environ.get("WITNESSMARK_DEMO")
        if not demo:
            demo = Path(scratch) / "demo"
            subprocess.run([given.bin, "demo", demo, "--json"], check=True, capture_output=True)
        folders += sorted(Path(demo).glob("**/notebook.toml"))
        rows = 0
        for toml in folders:
            copy = Path(scratch) / "copy"
            shutil.copytree(toml.parent, copy)
            out = subprocess.run([python, example, copy], capture_output=True, text=True)
            table = list(csv.DictReader(io.StringIO(out.stdout)))
            wrong = check(copy, table) if out.returncode == 0 else [out.stderr.strip()]
            shutil.rmtree(copy)
            rows += len(table)
            for line in wrong[:10]:
                print(f"{toml.parent}: {line}")
            passed, failed = passed + (not wrong), failed + bool(wrong)
        print(f"compared {rows} rows of {len(folders)} notebooks with the lines of their records")
        if rows < 4:
            print("too few rows were compared")
            failed += 1
        # typed errors and a shut notebook, from outside
        bad = subprocess.run([python, "-c", """
import witnessmark as w
try:
    w.Notebook.open('/nonexistent', None)
except w.Trouble.NoNotebook as t:
    assert t.code and t.what, t
else:
    raise SystemExit('no trouble')
assert w.live_objects() == 0
"""], capture_output=True, text=True)
        passed, failed = passed + (bad.returncode == 0), failed + (bad.returncode != 0)
        if bad.returncode:
            print(bad.stderr)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
