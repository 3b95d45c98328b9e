"""The ten questions of core/store/README.md, asked of a generated fleet by DuckDB (PyPI duckdb), and the
speed of writing the table beside pyarrow writing the same rows. Truth by construction: see
core/store/examples/fleet_rows.rs."""
import argparse, json, os, pathlib, re, subprocess, sys, tempfile, time
import duckdb, pyarrow.parquet as pq

parser = argparse.ArgumentParser()
parser.add_argument("--bin", required=True)
parser.add_argument("--rows", type=int, default=50_000)
parser.add_argument("--least", type=float, help="fail below this share of pyarrow's speed")
options = parser.parse_args()
passed = failed = 0

def check(what, good, seen=""):
    global passed, failed
    passed, failed = passed + bool(good), failed + (not good)
    if not good:
        print("FAILED", what, seen)

root = pathlib.Path(__file__).resolve().parents[2]
questions = re.findall(r"```sql\n(.*?)```", (root / "core/store/README.md").read_text(), re.S)
check("ten questions", len(questions) == 10, len(questions))
with tempfile.TemporaryDirectory() as folder:
    run = subprocess.run([options.bin, str(options.rows), folder], check=True, capture_output=True, text=True)
    written, ours = run.stdout.rsplit(" ", 1)
    written = json.loads(written)
    base = duckdb.connect()
    for name in ("sightings", "looks"):
        base.execute(f"create view {name} as select * from read_parquet('{folder}/{name}/*/part.parquet', hive_partitioning=true)")
    count = base.sql("select count(*) from sightings").fetchone()[0]
    check("every row is there", count == options.rows == written["sightings"], count)
    for question in questions:
        rows = base.sql(question).fetchall()
        check(question, isinstance(rows, list) and (rows or "series" in question or "interval" in question), question)
    first = base.sql(questions[0]).fetchone()
    check("the planted growth comes first", first[:2] == ("T3", "733"), first)
    check("0.40 mm in 100 h, within 10 %", abs(first[3] - 0.40) < 0.04, first)
    second = base.sql(questions[0]).fetchall()[1]
    check("what does not grow is not shown to", abs(second[3]) < 0.1, second)
    # The same rows by pyarrow, sorted alike, from memory to disk.
    tables = {}
    for name in ("sightings", "looks"):
        for file in sorted(pathlib.Path(folder, name).glob("*/part.parquet")):
            tables[file] = pq.ParquetFile(file).read()
    began = time.perf_counter()
    for file, table in tables.items():
        keys = [(key, "ascending") for key in ("type", "zone", "aircraft", "finding", "date") if key in table.column_names]
        pq.write_table(table.sort_by(keys), os.path.join(folder, "rival.parquet"), compression="zstd")
    rival = time.perf_counter() - began
    print(f"writing {written['sightings']} sightings and {written['looks']} looks: ours {float(ours):.2f} s, "
          f"pyarrow {rival:.2f} s, ours at {rival / float(ours):.2f} x its speed (ours sorts and builds columns from rows of text, pyarrow sorts columns it has)")
    check("at least the share of pyarrow's speed that was asked for", options.least is None or rival / float(ours) >= options.least, rival / float(ours))
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
