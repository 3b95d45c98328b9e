"""Runs the program as people do, and reads what notebooks hold without it."""
import hashlib, json, os, pathlib, subprocess

passed = failed = 0


def check(what, good, seen=""):
    global passed, failed
    passed, failed = passed + bool(good), failed + (not good)
    if not good:
        print("FAILED", what, seen, flush=True)


class Program:
    """`endpoints`: the store's gateways; `who`: key and secret."""

    def __init__(self, binary, endpoints, who):
        self.binary = str(binary)
        self.environment = {name: value for name, value in os.environ.items() if not name.startswith("AWS_")}
        self.environment |= {"AWS_ENDPOINT_URL": ",".join(endpoints), "AWS_ACCESS_KEY_ID": who[0],
                             "AWS_SECRET_ACCESS_KEY": who[1], "AWS_REGION": "us-east-1"}

    def run(self, folder, *words, seconds=240):
        command = [self.binary, "-C", str(folder), *words]
        try:
            return subprocess.run(command, env=self.environment, capture_output=True, text=True, timeout=seconds)
        except subprocess.TimeoutExpired:
            return subprocess.CompletedProcess(command, 124, "", f"took more than {seconds} s")

    def good(self, folder, *words, seconds=240):
        done = self.run(folder, *words, seconds=seconds)
        if done.returncode:
            raise SystemExit(f"{words}: {done.returncode} {done.stdout} {done.stderr}")
        return done.stdout

    def meet(self, folder, place, seconds=240):
        done = self.run(folder, "--json", "exchange", place, seconds=seconds)
        return done, json.loads(done.stdout) if done.stdout.startswith("{") else None


def holdings(root):
    """Digests of every line, original and slip of a notebook, computed here with hashlib."""
    root, out = pathlib.Path(root), set()
    for chain in root.glob("record/*/*.jsonl"):
        if chain.parent.name != "0" * 64:
            out |= {hashlib.sha256(line).hexdigest() for line in chain.read_bytes().splitlines()}
    for folder in ("evidence", "slips"):
        for file in root.glob(f"{folder}/*/*"):
            out.add(hashlib.sha256(file.read_bytes()).hexdigest())
    return out


def own_lines(root):
    """Digests of the lines of the notebook's own author, whose key is here."""
    author = authors_of(root)
    out = []
    for chain in sorted(pathlib.Path(root).glob(f"record/*/{author}.jsonl")):
        if chain.parent.name != "0" * 64:
            out += [hashlib.sha256(line).hexdigest() for line in chain.read_bytes().splitlines()]
    return out


def authors_of(root):
    import tomllib
    with open(pathlib.Path(root) / "notebook.toml", "rb") as file:
        return tomllib.load(file)["author"]
