#!/usr/bin/env python3
"""Makes a wheel of the generated Python and the library: python3 bindings/python/wheel.py [OUT]

`bindings/kotlin/generate.sh` comes first. Needs nothing but Python: a wheel is a zip with a list of
digests (PyPA's binary distribution format 1.0). Type stubs are derived from the generated module, so
that they cannot tell another story. Prints the wheel's path.
"""
import ast
import base64
import hashlib
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import zipfile
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
LIBRARY = "libwitnessmark_ffi.so"


def version() -> str:
    for line in (TOP / "Cargo.toml").read_text().splitlines():
        if line.startswith("version = "):
            return line.split('"')[1]
    raise SystemExit("no version in Cargo.toml")


def hidden(name: str) -> bool:
    return name.startswith("_")


def stub_function(node: ast.FunctionDef) -> ast.FunctionDef:
    if node.returns is None:
        node.returns = ast.Constant(None)
    for argument in node.args.args + node.args.kwonlyargs:
        if argument.annotation is None and argument.arg not in ("self", "cls"):
            argument.annotation = ast.Name("str")
    text = ast.get_docstring(node)
    node.body = ([ast.Expr(ast.Constant(text))] if text else []) + [ast.Expr(ast.Constant(...))]
    return node


def stub_class(node: ast.ClassDef, base: str | None = None) -> ast.ClassDef:
    body: list[ast.stmt] = []
    text = ast.get_docstring(node)
    if text:
        body.append(ast.Expr(ast.Constant(text)))
    fields: dict[str, ast.expr] = {}
    functions: list[ast.stmt] = []
    for item in node.body:
        if isinstance(item, ast.ClassDef) and not hidden(item.name):
            functions.append(stub_class(item, node.name))
        elif isinstance(item, ast.FunctionDef) and (item.name == "__init__" or not hidden(item.name)):
            stubbed = stub_function(item)
            if item.name == "__init__":
                for argument in item.args.args[1:] + item.args.kwonlyargs:
                    fields[argument.arg] = argument.annotation or ast.Name("str")
            if not item.name.startswith("is_"):
                functions.append(stubbed)
    for name, kind in fields.items():
        body.append(ast.AnnAssign(ast.Name(name), kind, None, 1))
    body += functions
    bases = [ast.Name(base)] if base else [b for b in node.bases if ast.unparse(b) == "Exception"]
    return ast.ClassDef(node.name, bases, [], body or [ast.Expr(ast.Constant(...))], [])


def stubs(source: str) -> str:
    """What a type checker needs: records, objects, functions, with their texts."""
    module = ast.parse(source)
    public: set[str] = set()
    for node in module.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            public = set(ast.literal_eval(node.value))
    classes: dict[str, ast.stmt] = {}
    for node in module.body:
        name = getattr(node, "name", "")
        if name not in public or name.endswith("Protocol"):
            continue
        if isinstance(node, ast.ClassDef):
            before = classes.get(name)
            classes[name] = stub_class(node)
            # the generated exception is declared twice: a plain one, then one that holds its ways
            if isinstance(before, ast.ClassDef) and not classes[name].bases:
                classes[name].bases = before.bases
        elif isinstance(node, ast.FunctionDef):
            classes[name] = stub_function(node)
    tree = ast.Module([ast.parse("import typing").body[0], *classes.values()], [])
    return ast.unparse(ast.fix_missing_locations(tree)) + "\n"


def main() -> int:
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else TOP / "target/wheels"
    door = TOP / "target/door"
    source = (door / "python/witnessmark.py").read_text()
    number = version()
    tag = f"py3-none-{sysconfig.get_platform().replace('-', '_').replace('.', '_')}"
    with tempfile.TemporaryDirectory() as scratch:
        library = Path(scratch) / LIBRARY
        shutil.copyfile(door / "lib" / LIBRARY, library)
        # symbols for a debugger stay on the machine that built it
        subprocess.run(["strip", "--strip-unneeded", str(library)], check=True)
        info = f"witnessmark-{number}.dist-info"
        members = {
            "witnessmark/__init__.py": source.encode(),
            "witnessmark/__init__.pyi": stubs(source).encode(),
            "witnessmark/py.typed": b"",
            f"witnessmark/{LIBRARY}": library.read_bytes(),
            f"{info}/METADATA": (
                f"Metadata-Version: 2.1\nName: witnessmark\nVersion: {number}\n"
                "Summary: Reads and writes Witnessmark notebooks\nLicense: MIT\nRequires-Python: >=3.10\n"
            ).encode(),
            f"{info}/WHEEL": (
                f"Wheel-Version: 1.0\nGenerator: witnessmark\nRoot-Is-Purelib: false\nTag: {tag}\n"
            ).encode(),
            f"{info}/licenses/LICENSE-MIT": (TOP / "LICENSE-MIT").read_bytes(),
            f"{info}/licenses/NOTICE": (TOP / "NOTICE").read_bytes(),
        }
    record = "".join(
        f"{name},sha256={base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b'=').decode()},{len(data)}\n"
        for name, data in members.items()
    )
    members[f"{info}/RECORD"] = (record + f"{info}/RECORD,,\n").encode()
    out.mkdir(parents=True, exist_ok=True)
    wheel = out / f"witnessmark-{number}-{tag}.whl"
    with zipfile.ZipFile(wheel, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            # a fixed time, so that the same library gives the same wheel
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    print(wheel)
    return 0


if __name__ == "__main__":
    sys.exit(main())
