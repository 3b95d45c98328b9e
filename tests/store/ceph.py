"""Meeting in a second real store of another lineage: Ceph (Debian 16.2), one monitor, three OSDs on
sparse files, one gateway, all on loopback, no systemd. Everything lies in one temporary folder."""
import argparse, os, pathlib, shutil, signal, subprocess, sys, tempfile, time, uuid
import people
from cluster import ADMIN, client, free_ports
from meeting import AUTHORS, authors_meet, hostile, kept, rights, until
from people import check

parser = argparse.ArgumentParser()
parser.add_argument("--bin", required=True)
parser.add_argument("--demo", required=True)
parser.add_argument("--seconds", type=int, default=540)
options = parser.parse_args()


class Ceph:
    def __init__(self, names):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="wm-ceph-"))
        self.keys = {name: (f"key-{name}", f"secret-{name}") for name in names}
        monitor, self.port = free_ports(2)
        self.endpoints = [f"http://127.0.0.1:{self.port}"]
        self.running = []
        at = self.folder
        for name in ("mon", "mgr", "osd0", "osd1", "osd2", "rgw", "log", "run"):
            (at / name).mkdir()
        sections = {
            "global": {
                "fsid": uuid.uuid4(), "mon host": f"[v2:127.0.0.1:{monitor},v1:127.0.0.1:{monitor + 10000}]",
                "mon initial members": "a", "public network": "127.0.0.0/8", "public addr": "127.0.0.1",
                "keyring": at / "keyring", "run dir": at / "run", "log file": f"{at}/log/$name.log",
                "admin socket": f"{at}/run/$name.asok", "pid file": f"{at}/run/$name.pid",
                "osd pool default size": 3, "osd pool default min size": 2, "osd pool default pg num": 8,
                "osd pool default pgp num": 8, "osd crush chooseleaf type": 0, "osd memory target": 939524096,
                "mon data avail warn": 1, "mon data avail crit": 1, "bluestore block size": 6 << 30,
                "bluestore block db create": "false", "bluestore block wal create": "false",
                "rgw frontends": f"beast endpoint=127.0.0.1:{self.port}"},
            "mon.a": {"mon data": at / "mon", "mon addr": f"127.0.0.1:{monitor}"},
            "mgr.x": {"mgr data": at / "mgr"},
            "osd.0": {"osd data": at / "osd0"}, "osd.1": {"osd data": at / "osd1"}, "osd.2": {"osd data": at / "osd2"},
            "client.rgw.a": {"rgw data": at / "rgw", "keyring": at / "keyring"},
        }
        self.config = at / "ceph.conf"
        self.config.write_text("".join(f"[{name}]\n" + "".join(f"{key} = {value}\n" for key, value in lines.items())
                                       for name, lines in sections.items()))

    def do(self, *words, seconds=60):
        done = subprocess.run([*map(str, words)], capture_output=True, text=True, timeout=seconds, cwd=self.folder,
                              env=os.environ | {"CEPH_CONF": str(self.config)})
        if done.returncode:
            raise SystemExit(f"FAILED {words[0]}: {done.stderr[-600:]}")
        return done.stdout

    def serve(self, *words):
        log = open(self.folder / "log" / f"{words[0]}-{len(self.running)}.out", "wb")
        self.running.append(subprocess.Popen([*map(str, words)], stdout=log, stderr=log, stdin=subprocess.DEVNULL, cwd=self.folder))

    def up(self):
        at, conf = self.folder, ("-c", self.config)
        self.do("ceph-authtool", "--create-keyring", "keyring", "--gen-key", "-n", "mon.", "--cap", "mon", "allow *")
        self.do("ceph-authtool", "keyring", "--gen-key", "-n", "client.admin", "--cap", "mon", "allow *", "--cap", "osd", "allow *", "--cap", "mgr", "allow *")
        host = next(line.split("= ")[1] for line in self.config.read_text().splitlines() if line.startswith("mon host"))
        self.do("monmaptool", "--create", "--addv", "a", host, "--fsid", self.config.read_text().split("fsid = ")[1].split()[0], "monmap")
        self.do("ceph-mon", *conf, "--mkfs", "-i", "a", "--monmap", "monmap", "--keyring", "keyring")
        self.serve("ceph-mon", *conf, "-f", "-i", "a", "--public-addr", "127.0.0.1")
        self.do("ceph", *conf, "mon", "enable-msgr2")
        mine = lambda who, *caps: (at / "keyring").open("a").write(self.do("ceph", *conf, "auth", "get-or-create", who, *caps))
        mine("mgr.x", "mon", "allow profile mgr", "osd", "allow *")
        self.serve("ceph-mgr", *conf, "-f", "-i", "x")
        for n in range(3):
            ident = str(uuid.uuid4())
            self.do("ceph", *conf, "osd", "new", ident)
            mine(f"osd.{n}", "mon", "allow profile osd", "mgr", "allow profile osd", "osd", "allow *")
            with open(at / f"osd{n}" / "block", "wb") as block:
                block.truncate(6 << 30)
            self.do("ceph-osd", *conf, "-i", n, "--mkfs", "--osd-uuid", ident, "--osd-data", at / f"osd{n}", "--osd-objectstore", "bluestore")
            self.do("ceph", *conf, "osd", "crush", "add", f"osd.{n}", "1.0", f"host=h{n}", "root=default")
            self.serve("ceph-osd", *conf, "-f", "-i", n)
        mine("client.rgw.a", "mon", "allow rw", "osd", "allow rwx", "mgr", "allow rw")
        self.serve("radosgw", *conf, "-f", "-n", "client.rgw.a")
        for name, (key, secret) in {"admin": ADMIN, **self.keys}.items():
            self.do("radosgw-admin", *conf, "user", "create", f"--uid={name}", f"--display-name={name}", f"--access-key={key}", f"--secret={secret}", seconds=120)

        def made():
            try:
                client(self.endpoints[0]).create_bucket(Bucket="club")
                return True
            except Exception:  # not up yet
                return False

        return until(made, 120)

    def stop(self):
        for process in self.running:
            process.send_signal(signal.SIGKILL)
        for process in self.running:
            process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


def too_late(*_):
    raise SystemExit("FAILED took longer than it may")


signal.signal(signal.SIGALRM, too_late)
signal.alarm(options.seconds)
home = pathlib.Path(tempfile.mkdtemp(prefix="wm-store-"))
ceph = Ceph((*AUTHORS, "stranger"))
try:
    check("Ceph is up", ceph.up())
    union = authors_meet(ceph, home, options.bin, options.demo, "arn:aws:iam:::user/")
    rights(ceph, home, options.bin)
    hostile(ceph, home, options.bin, union)
    kept(ceph, home, options.bin)
finally:
    ceph.stop()
    shutil.rmtree(home, ignore_errors=True)
print(f"{people.passed} passed, {people.failed} failed")
sys.exit(people.failed > 0)
