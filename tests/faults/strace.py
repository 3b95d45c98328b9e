#!/usr/bin/env python3
"""Every file system call of a command fails once (EIO, ENOSPC) or is the last thing the program does
(SIGKILL just before it). After each, the notebook must open and verify without a failure row, nothing
that was acknowledged (exit 0, or printed) may be gone, and the same work must succeed afterwards.

    tests/faults/strace.py --bin target/release/witnessmark [--all] [--only NAME]

Without --all a sample spread over all calls. Calls are those that touch the notebook, the pack or its
reader's notebook; the dynamic loader's are left out, since the program has not begun then. Needs strace
(Debian). The photos are a JPEG's frame around invented bytes.

The checker is checked too: a write of the chain that the system claims to have done and has not (strace
answers in its place), a line cut off afterwards, and an original that goes missing must all be reported.
"""
import argparse
import concurrent.futures
import hashlib
import json
import os
import pathlib
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile

NOW = ["--now", "2026-05-03T09:10:00+02:00"]
FAULTS = ["error=EIO", "error=ENOSPC", "signal=KILL"]
LINE = re.compile(r"^(\d+)\s+(\w+)\((.*)$")


class Bench:
    def __init__(self, binary, work):
        self.binary, self.work = binary, work
        self.pictures = [self.photo(n) for n in range(1, 5)]
        self.base = work / "base"
        self.wm("init", self.base, "--author", "Invented", "--role", "owner", seed=1)
        layout = json.loads(self.wm("layout", "list", "--json"))["layouts"][0]["name"]
        at = ["-C", self.base]
        self.wm(*at, "aircraft", "add", "N0TEST", "--type", "invented", "--layout", layout, seed=2)
        self.wm(*at, "walkaround", "start", seed=3)
        self.wm(*at, "photo", self.pictures[0], seed=4)
        self.wm(*at, "walkaround", "finish", seed=5)
        self.pack = work / "other.zip"
        self.wm(*at, "pack", "--cut", "review", "--out", self.pack, seed=6)
        self.wm(*at, "walkaround", "start", seed=7)
        self.reader = work / "reader"
        self.wm("init", self.reader, "--author", "Reader", "--role", "mechanic", seed=8)
        # An index of an older version: the tables of none, as a program before the first version left it.
        self.older = work / "older"
        shutil.copytree(self.base, self.older, symlinks=True)
        with sqlite3.connect(self.older / "index.sqlite") as db:
            db.execute("PRAGMA foreign_keys=OFF")
            for table in ["zone", "cite", "line", "chain"]:
                db.execute(f"DROP TABLE {table}")
            db.execute("PRAGMA user_version=0")
        db.close()
        # And one of a newer version, which is set aside and made anew.
        self.newer = work / "newer"
        shutil.copytree(self.base, self.newer, symlinks=True)
        with sqlite3.connect(self.newer / "index.sqlite") as db:
            db.execute("PRAGMA user_version=99")
        db.close()

    def photo(self, n):
        path = self.work / f"{n}.jpg"
        path.write_bytes(b"\xff\xd8\xff\xdb\0\x04\0" + bytes([n]) + b"\xff\xd9")
        return path

    def call(self, *words, seed=9):
        return [str(self.binary), *NOW, "--seed", str(seed), *map(str, words)]

    def wm(self, *words, seed=9, fine=True):
        done = subprocess.run(self.call(*words, seed=seed), capture_output=True, text=True)
        if fine and done.returncode != 0:
            sys.exit(f"preparing: {words}: {done.stderr}")
        return done.stdout


def lines(notebook):
    """Digest of every whole line of every chain."""
    found = set()
    for path in notebook.glob("record/*/*.jsonl"):
        for line in path.read_bytes().split(b"\n")[:-1]:
            found.add(hashlib.sha256(line).hexdigest())
    return found


def originals(notebook):
    return {p.name for f in ["evidence", "slips"] for p in notebook.glob(f"{f}/??/*") if not p.name.endswith(".new")}


class Case:
    """One command, on a copy of a notebook."""

    def __init__(self, bench, name, start, words, makes=None, again=True):
        self.bench, self.name, self.start, self.words = bench, name, start, words
        self.makes, self.again = makes, again

    def spot(self, folder):
        run = folder / "n"
        shutil.copytree(self.start, run, symlinks=True)
        return run, [str(w).replace("@", str(folder)) for w in self.words]

    def command(self, run, words):
        return self.bench.call("-C", run, *words, "--json", seed=77)

    def learn(self):
        """Undisturbed: which calls there are, and what must be there afterwards."""
        with tempfile.TemporaryDirectory(dir=self.bench.work) as folder:
            folder = pathlib.Path(folder)
            run, words = self.spot(folder)
            trace = folder / "trace"
            done = subprocess.run(["strace", "-f", "-y", "-qq", "-e", "trace=%file,%desc", "-o", trace,
                                   *self.command(run, words)], capture_output=True, text=True)
            if done.returncode != 0:
                sys.exit(f"{self.name}: it fails undisturbed: {done.stderr}")
            counts, self.calls = {}, []
            for row in trace.read_text(errors="replace").splitlines():
                met = LINE.match(row)
                if not met or met[2] in ("execve", "exit_group"):
                    continue
                key = met[1], met[2]
                counts[key] = counts.get(key, 0) + 1
                if str(folder) in met[3] or str(self.bench.pack) in met[3] or ".jpg" in met[3]:
                    self.calls.append((met[2], counts[key], f"{met[2]}({met[3]}".replace(str(folder) + "/", "")))
            self.lines, self.originals = lines(run), originals(run)
            self.made = self.makes and self.bytes_of(folder / self.makes)
            self.before = lines(self.start), originals(self.start)
        return self

    @staticmethod
    def bytes_of(path):
        files = [path] if path.is_file() else sorted(p for p in path.rglob("*") if p.is_file())
        return [(str(p.relative_to(path.parent)), hashlib.sha256(p.read_bytes()).hexdigest()) for p in files]

    def judge(self, folder, run, words, done, spoil=None):
        """What is wrong afterwards, or None."""
        if spoil:
            spoil(run)
        now, there = lines(run), originals(run)
        if not self.before[0] <= now:
            return f"{len(self.before[0] - now)} lines that were there before are gone"
        if not self.before[1] <= there:
            return f"files that were there before are gone: {sorted(self.before[1] - there)}"
        if done.returncode == 0 and not self.lines <= now:
            return f"acknowledged, and {len(self.lines - now)} of its lines are gone"
        if done.returncode == 0 and not self.originals <= there:
            return f"acknowledged, and files are gone: {sorted(self.originals - there)}"
        # What was printed as taken in is acknowledged too, whatever came after it.
        for digest in re.findall(r'"entry":"([0-9a-f]{64})"', done.stdout):
            if digest not in now:
                return f"it printed {digest}, which is not in the record"
        if done.returncode > 3:
            return f"it ended with status {done.returncode}: {done.stderr.strip()[-300:]}"
        if done.returncode > 0 and not (done.stderr + done.stdout).strip():
            return "it failed without a word"
        if self.makes:
            path = folder / self.makes
            if path.exists() and self.bytes_of(path) != self.made:
                return f"{self.makes} has its name and is not whole"
            if done.returncode == 0 and not path.exists():
                return f"acknowledged, and {self.makes} is not there"
        wm = lambda *w: subprocess.run(self.bench.call(*w, seed=78), capture_output=True, text=True)
        said = wm("verify", run, "--json")
        if bad := self.failures(said):
            return f"verify: {bad}"
        # Reading beside it, then the same work again, then once more all in order.
        said = wm("-C", run, "history", "--json")
        if said.returncode != 0 and self.start != self.bench.reader:
            return f"it does not open for reading: {said.stderr.strip()}"
        if self.makes and (folder / self.makes).exists():
            (shutil.rmtree if (folder / self.makes).is_dir() else os.remove)(folder / self.makes)
        if self.again or not (self.lines <= now):
            said = wm("-C", run, *words)
            if said.returncode != 0:
                return f"it cannot go on afterwards: {said.stderr.strip()}"
        said = wm("verify", run, "--json")
        if bad := self.failures(said):
            return f"after going on, verify: {bad}"
        if left := [p.name for p in (run / "incoming").iterdir()] if (run / "incoming").is_dir() else []:
            return f"left in incoming/: {left}"
        return None

    @staticmethod
    def failures(said):
        try:
            rows = json.loads(said.stdout)["rows"]
        except (ValueError, KeyError):
            return f"it could not run: {said.stderr.strip()[-300:]}"
        return [f"{r['code']} {r['file']}: {r['what']}" for r in rows if r["status"] == "failure"] or None

    def run(self, fault, call, number, spoil=None):
        with tempfile.TemporaryDirectory(dir=self.bench.work) as folder:
            folder = pathlib.Path(folder)
            run, words = self.spot(folder)
            done = subprocess.run(["strace", "-f", "-qq", "-o", "/dev/null", f"--trace={call}",
                                   f"--inject={call}:{fault}:when={number}", *self.command(run, words)],
                                  capture_output=True, text=True)
            done.returncode = done.returncode if done.returncode >= 0 else 0x80 - done.returncode
            # Killed is no answer: 137 is what strace hands on.
            if done.returncode in (137, 0x80 + 9):
                done.returncode = 1
                done.stderr = "killed"
            return self.judge(folder, run, words, done, spoil)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--bin", required=True)
    ask.add_argument("--all", action="store_true")
    ask.add_argument("--only")
    ask = ask.parse_args()
    if not shutil.which("strace"):
        print("SKIPPED: strace is not installed: no file system call was made to fail")
        return 0
    probe = subprocess.run(["strace", "-qq", "-o", "/dev/null", "true"], capture_output=True)
    if probe.returncode != 0:
        print("SKIPPED: strace may not trace here (ptrace is forbidden): no file system call was made to fail")
        return 0
    passed, failed = 0, 0
    with tempfile.TemporaryDirectory(prefix="faults-") as work:
        bench = Bench(pathlib.Path(ask.bin).resolve(), pathlib.Path(work))
        cases = [
            Case(bench, "photo", bench.base, ["photo", bench.pictures[1]]),
            Case(bench, "note", bench.base, ["note", "a note"]),
            Case(bench, "finish", bench.base, ["walkaround", "finish"], again=False),
            Case(bench, "receive", bench.reader, ["receive", bench.pack]),
            Case(bench, "pack", bench.base, ["pack", "--cut", "review", "--out", "@/out"], makes="out"),
            Case(bench, "pack zip", bench.base, ["pack", "--cut", "review", "--withhold", "people", "--out", "@/out.zip"], makes="out.zip"),
            Case(bench, "index rebuild", bench.base, ["index", "rebuild"]),
            Case(bench, "older index", bench.older, ["note", "a note"]),
            Case(bench, "newer index", bench.newer, ["note", "a note"]),
        ]
        cases = [c for c in cases if not ask.only or c.name == ask.only]
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count() or 2) as pool:
            for case in cases:
                case.learn()
                # The standard library calls the program off when a folder's close fails, which no
                # system does; a file's close is past its sync.
                tries = [(f, c) for f in FAULTS for c in case.calls if c[0] != "close" or f == "signal=KILL"]
                # A prime step walks through faults and calls alike.
                tries = tries if ask.all else tries[:: max(1, len(tries) // 67 | 1)]
                bad = 0
                for (fault, (name, number, shown)), wrong in zip(tries, pool.map(lambda t: case.run(t[0], t[1][0], t[1][1]), tries)):
                    if wrong:
                        bad += 1
                        print(f"FAILED: {case.name}: {fault} at {name} number {number}, which is {shown}\n    {wrong}")
                passed, failed = passed + len(tries) - bad, failed + bad
                print(f"{case.name}: {len(tries)} of {len(case.calls) * len(FAULTS)} faults tried, {bad} wrong")
        if not ask.only:
            for name, caught in broken(bench, cases[1], cases[0]):
                passed, failed = passed + bool(caught), failed + (not caught)
                print(f"checker: {name}: {caught or 'NO ERROR FOUND, THE CHECKER IS BROKEN'}")
    print(f"{passed} passed, {failed} failed")
    return failed != 0


def broken(bench, note, photo):
    """Runs that are wrong on purpose; each must be reported."""
    chain = next(c for c in note.calls if c[0] == "write" and ".jsonl" in c[2])
    length = re.search(r"= (\d+)\s*$", chain[2])[1]
    yield "a write of the chain that never reaches the file", note.run(f"retval={length}", chain[0], chain[1])
    nothing = ("retval=0", "lseek", 9999)

    def cut(run):
        path = max(run.glob("record/*/*.jsonl"), key=lambda p: p.stat().st_size)
        path.write_bytes(b"\n".join(path.read_bytes().split(b"\n")[:-2]) + b"\n")

    def lose(run):
        digest = hashlib.sha256(bench.pictures[1].read_bytes()).hexdigest()
        next(run.glob(f"evidence/??/{digest}*")).unlink()

    def flip(run):
        path = max(run.glob("record/*/*.jsonl"), key=lambda p: p.stat().st_size)
        data = bytearray(path.read_bytes())
        data[data.index(b'"kind":"') + 9] ^= 1
        path.write_bytes(data)

    yield "the last line cut off after it was acknowledged", note.run(*nothing, spoil=cut)
    yield "an original lost after it was acknowledged", photo.run(*nothing, spoil=lose)
    yield "a bit of the record turned", note.run(*nothing, spoil=flip)


if __name__ == "__main__":
    sys.exit(main())
