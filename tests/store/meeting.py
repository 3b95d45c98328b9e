"""The exchange of the demo's authors in one store, their rights there, and a hostile overwriting: the
same for every server. `store` has endpoints and keys by person."""
import hashlib, json, pathlib, shutil, time
from botocore.exceptions import ClientError
from cluster import ADMIN, client
from people import Program, authors_of, check, holdings, own_lines

AUTHORS = ("owner", "mechanic", "buyer")
PLACE = "s3://club/notebooks"


def said(action):
    try:
        action()
        return "ok"
    except ClientError as error:
        return error.response["Error"]["Code"]


def until(good, seconds):
    """A listing may lag: what is not there yet comes later, within bounds."""
    end = time.monotonic() + seconds
    while not good() and time.monotonic() < end:
        time.sleep(0.5)
    return good()


def authors_meet(store, home, binary, demo, principal):
    policies = []
    for name in AUTHORS:
        shutil.copytree(pathlib.Path(demo) / name, home / name)
        program = Program(binary, store.endpoints, ADMIN)
        text = program.good(home / name, "store", "policy", PLACE, "--principal", f"{principal}{name}")
        for number, statement in enumerate(json.loads(text)["Statement"]):
            policies.append(statement | {"Sid": f"{name}{number}"})
    admin = client(store.endpoints[0])
    admin.put_bucket_policy(Bucket="club", Policy=json.dumps({"Version": "2012-10-17", "Statement": policies}))
    programs = {name: Program(binary, store.endpoints, store.keys[name]) for name in AUTHORS}
    # Gateways learn of a policy a little later.
    first = programs[AUTHORS[0]]
    check("the policy takes effect", until(lambda: first.run(home / AUTHORS[0], "store", "probe", PLACE).returncode == 0, 20))
    for name, program in programs.items():
        told = program.good(home / name, "store", "add", PLACE)
        check("the probe says what this server does", told.startswith("The store refuses to write over what is there."), told)
    union = set().union(*(holdings(home / name) for name in AUTHORS))

    def all_meet():
        for name, program in programs.items():
            done, met = program.meet(home / name, PLACE)
            check(f"{name} meets", done.returncode == 0 and met is not None, done.stderr + done.stdout[:400])
        return all(holdings(home / name) == union for name in AUTHORS)

    check("the same union everywhere", until(all_meet, 60), [len(holdings(home / name)) for name in AUTHORS])
    for name, program in programs.items():
        verdict = program.run(home / name, "verify")
        check(f"{name} verifies", verdict.returncode == 0, verdict.stdout[-300:])
    reader = home / "reader"
    program = Program(binary, store.endpoints, store.keys["buyer"])
    program.good(home, "init", str(reader), "--author", "R. Invented", "--role", "reader")

    def reads():
        program.meet(reader, PLACE)
        return union <= holdings(reader)

    check("a new reader gets the whole of it", until(reads, 60), len(holdings(reader)))
    done, met = program.meet(reader, PLACE)
    check("a quiet meeting moves nothing", met and met["lines"] == 0 and met["new_files"] == 0, done.stdout[:300])
    print(f"exchange: {len(union)} lines, originals and slips of {len(AUTHORS)} authors in {len(programs)} notebooks and a reader's")
    return union


def rights(store, home, binary):
    """Each right and each missing right that the policy claims, asked with boto3."""
    own, other = authors_of(home / "owner"), authors_of(home / "mechanic")
    me, admin = client(store.endpoints[0], store.keys["owner"]), client(store.endpoints[0])
    base = "notebooks/v1"
    theirs = admin.list_objects_v2(Bucket="club", Prefix=f"{base}/n/{other}/")["Contents"][0]["Key"]
    put = lambda key: said(lambda: me.put_object(Bucket="club", Key=key, Body=b"x"))
    for what, got, wanted in [
        ("writes under its own key", put(f"{base}/n/{own}/test"), "ok"),
        ("writes files named by their digest", put(f"{base}/e/00/test"), "ok"),
        ("writes slips", put(f"{base}/s/00/test"), "ok"),
        ("not under another's key", put(f"{base}/n/{other}/test"), "AccessDenied"),
        ("not over another's lines", put(theirs), "AccessDenied"),
        ("not outside", put("elsewhere"), "AccessDenied"),
        ("deletes nothing of its own", said(lambda: me.delete_object(Bucket="club", Key=f"{base}/n/{own}/test")), "AccessDenied"),
        ("deletes nothing of others", said(lambda: me.delete_object(Bucket="club", Key=theirs)), "AccessDenied"),
        ("reads others", said(lambda: me.get_object(Bucket="club", Key=theirs)), "ok"),
        ("lists", said(lambda: me.list_objects_v2(Bucket="club", Prefix=f"{base}/n/")), "ok"),
        ("does not change the policy", said(lambda: me.delete_bucket_policy(Bucket="club")), "AccessDenied"),
        ("strangers read nothing", said(lambda: client(store.endpoints[0], ("nobody", "nothing")).get_object(Bucket="club", Key=theirs)), "InvalidAccessKeyId"),
    ]:
        check(f"rights: {what}", got == wanted, (got, wanted))
    for key in (f"{base}/n/{own}/test", f"{base}/e/00/test", f"{base}/s/00/test"):
        admin.delete_object(Bucket="club", Key=key)
    # The same by the program: no right to the store at all.
    done = Program(binary, store.endpoints, store.keys["stranger"]).run(home / "owner", "--json", "exchange", PLACE)
    check("no rights are said", "these credentials have no right to do that here" in done.stderr, done.stderr)
    done = Program(binary, store.endpoints, ADMIN).run(home / "owner", "--json", "exchange", "s3://no-such-bucket/x")
    check("a wrong bucket is said", "the store has no bucket of that name" in done.stderr, done.stderr)


def hostile(store, home, binary, union):
    """An author with rights to the common files, and an administrator, write over what is there."""
    me, admin = client(store.endpoints[0], store.keys["owner"]), client(store.endpoints[0])
    listed = admin.list_objects_v2(Bucket="club", Prefix="notebooks/v1/")["Contents"]
    # One that lines cite which nobody forges.
    chain = b"".join(file.read_bytes() for file in (home / "owner").glob(f"record/*/{authors_of(home / 'owner')}.jsonl"))
    original = next(one["Key"] for one in listed if "/e/" in one["Key"]
                    and one["Key"].rsplit("/", 1)[1].split(".")[0].encode() in chain)
    lines = next(one["Key"] for one in listed if f"/n/{authors_of(home / 'mechanic')}/" in one["Key"])
    # Read by an author: on Ceph what people wrote is theirs, and the bucket's owner reads only what is shared.
    kept = {key: me.get_object(Bucket="club", Key=key)["Body"].read() for key in (original, lines)}
    me.put_object(Bucket="club", Key=original, Body=b"another picture")
    admin.put_object(Bucket="club", Key=lines, Body=b'{"forged":true}\n')
    program = Program(binary, store.endpoints, store.keys["buyer"])
    victim = home / "victim"
    program.good(home, "init", str(victim), "--author", "V. Invented", "--role", "reader")
    done, met = program.meet(victim, PLACE)
    rows = [] if met is None else [row["file"] for row in met["rows"] if row["code"] == "altered"]
    check("both forgeries are named", sorted(rows) == sorted(key.removeprefix("notebooks/") for key in (original, lines)), (rows, done.stdout[:500]))
    held = holdings(victim)
    check("neither is taken in", not held - union - {h for h in own_lines(victim)} - slips(victim), len(held))
    for name in AUTHORS:
        check(f"{name} keeps what it had", union <= holdings(home / name))
    for key, bytes in kept.items():
        admin.put_object(Bucket="club", Key=key, Body=bytes)

    def reads():
        program.meet(victim, PLACE)
        return union <= holdings(victim)

    check("once put right, everything comes", until(reads, 30), len(holdings(victim)))


def slips(root):
    return {file.stem for file in pathlib.Path(root).glob("slips/*/*")}


def kept(store, home, binary):
    """Versioning and object lock, which the policy's advice rests on: an overwriting only adds a version,
    what was there can be brought back, and a locked version cannot be deleted by anybody."""
    admin = client(store.endpoints[0])
    admin.create_bucket(Bucket="locked", ObjectLockEnabledForBucket=True)
    admin.put_object_lock_configuration(Bucket="locked", ObjectLockConfiguration={
        "ObjectLockEnabled": "Enabled", "Rule": {"DefaultRetention": {"Mode": "COMPLIANCE", "Days": 1}}})
    program = Program(binary, store.endpoints[:1], ADMIN)
    # Servers that hold to the letter want a checksum with what they lock (AmazonS3 API, PutObject; from memory).
    program.environment["AWS_CHECKSUM_ALGORITHM"] = "SHA256"
    place, book = "s3://locked/notebooks", home / "owner"
    told = program.good(book, "store", "probe", place)
    check("the probe says something of a versioned bucket", told.startswith("The store "), told)
    done, met = program.meet(book, place)
    check("meets in a locked bucket", done.returncode == 0 and met["put"] > 10, done.stderr)
    key = next(one["Key"] for one in admin.list_objects_v2(Bucket="locked", Prefix="notebooks/v1/e/")["Contents"])
    admin.put_object(Bucket="locked", Key=key, Body=b"another picture", ChecksumAlgorithm="SHA256")
    versions = admin.list_object_versions(Bucket="locked", Prefix=key)["Versions"]
    check("an overwriting adds a version", len(versions) == 2, len(versions))
    name, before = key.rsplit("/", 1)[1].split(".")[0], None
    for one in versions:
        body = admin.get_object(Bucket="locked", Key=key, VersionId=one["VersionId"])["Body"].read()
        if hashlib.sha256(body).hexdigest() == name:
            before = one["VersionId"]
    check("what was there is still there", before is not None)
    if before is not None:
        got = said(lambda: admin.delete_object(Bucket="locked", Key=key, VersionId=before))
        check("a locked version is deleted by nobody", got in ("AccessDenied", "InvalidRequest"), got)
    print(f"object lock: {told.split('.')[0]}; an overwritten original is there as an older version")
