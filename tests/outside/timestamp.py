#!/usr/bin/env python3
"""Time stamps (RFC 3161) with `openssl ts` as a local authority: the query is taken, the reply kept,
a reply to another query refused, a damaged one found. The authority's configuration is the outside
material's; skipped where it or openssl is absent."""
import argparse
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

parser = argparse.ArgumentParser(description=__doc__)
parser.add_argument("--bin", required=True, help="the witnessmark binary")
args = parser.parse_args()
binary = os.path.abspath(args.bin)
shared = pathlib.Path(os.environ.get("WITNESSMARK_SHARED", pathlib.Path(__file__).parents[2] / ".." / "shared"))
config = shared / "outside" / "tsa" / "tsa.cnf"
if not config.exists() or not shutil.which("openssl"):
    print(f"SKIPPED: openssl or {config} is not there")
    print("0 passed, 0 failed, 1 skipped")
    sys.exit(0)

work = pathlib.Path(tempfile.mkdtemp())
shutil.copy(config, work / "tsa.cnf")
(work / "tsaserial").write_text("01\n")
counts = [0, 0]


def check(what, good, note=""):
    counts[0 if good else 1] += 1
    if not good:
        print(f"FAILED: {what} {note}")


def run(*words, want=0):
    done = subprocess.run([binary, *words], cwd=work, capture_output=True, text=True)
    check(" ".join(words), done.returncode == want, f"exit {done.returncode}: {done.stderr}")
    return done.stdout


def openssl(words):
    done = subprocess.run(["openssl", *words.split()], cwd=work, capture_output=True, text=True)
    check(f"openssl {words}", done.returncode == 0, done.stderr)
    return done.stdout


openssl("req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -days 30 -config tsa.cnf -extensions v3_ca")
openssl("req -newkey rsa:2048 -nodes -keyout tsa.key -out tsa.csr -config tsa.cnf -subj /CN=Test")
openssl("x509 -req -in tsa.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out tsa.pem -days 30 -extfile tsa.cnf -extensions v3_tsa")
run("init", "a", "--author", "Invented", "--role", "owner")
layout = json.loads(run("layout", "list", "--json"))["layouts"][0]["name"]
run("-C", "a", "aircraft", "add", "N0TEST", "--type", "invented", "--layout", layout)
run("-C", "a", "walkaround", "start")
run("-C", "a", "walkaround", "finish")
for name in ("one", "two"):
    run("-C", "a", "timestamp", "request", "--out", f"{name}.tsq")
    openssl(f"ts -reply -config tsa.cnf -queryfile {name}.tsq -out {name}.tsr")
check("two queries differ", (work / "one.tsq").read_bytes() != (work / "two.tsq").read_bytes())
finish = json.loads(run("-C", "a", "proof", "--json"))["finishes"][0]["finish"]
check("stamped is the finish line", "OK" in openssl(f"ts -verify -digest {finish} -in one.tsr -CAfile ca.pem"))
run("-C", "a", "timestamp", "accept", "two.tsr", "--query", "one.tsq", want=2)
run("-C", "a", "timestamp", "accept", "one.tsr", "--query", "one.tsq", "--ca", "tsa.pem", want=2)
said = run("-C", "a", "timestamp", "accept", "one.tsr", "--query", "one.tsq", "--ca", "ca.pem", "--json")
check("signature checked by openssl", json.loads(said)["signature"].startswith("holds"))
rows = json.loads(run("-C", "a", "verify", "--json"))["rows"]
check("verify says what was not checked", any(row["code"] == "not_checked" for row in rows), str(rows))
kept = next((work / "a" / "evidence").rglob("*.tsr"))
good = kept.read_bytes()
os.chmod(kept, 0o644)
for at in range(0, len(good), max(1, len(good) // 40)):
    kept.write_bytes(good[:at] + bytes([good[at] ^ 4]) + good[at + 1 :])
    rows = json.loads(run("-C", "a", "verify", "--json", want=1))["rows"]
    check("a flipped bit in the reply", any(row["code"] in ("altered", "bad_timestamp") for row in rows))
shutil.rmtree(work)
print("compared: queries, replies, refusals and flipped bits with openssl ts")
print(f"{counts[0]} passed, {counts[1]} failed")
sys.exit(1 if counts[1] else 0)
