#!/usr/bin/env python3
"""Fills fuzz/corpus/<target> from what the project has: fixtures, built-in systems and rule sets, tables, notes.

python3 fuzz/seed.py [--program PATH-OF-PLUMBRAIL]

Plans are taken as they are and cut down to what the reading needs, so that a change of one byte often matters. With
--program the layouts of the fixtures are seeds for `layout_json`, and plans with rails in them for `job`.
"""
import argparse
import hashlib
import json
import pathlib
import subprocess
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
CORPUS = ROOT / "fuzz" / "corpus"
HEADER_KEPT = {"$ACADVER", "$INSUNITS", "$HANDSEED", "$DWGCODEPAGE", "$INSBASE"}


def add(targets, data):
    """One seed, named by its contents, for each of the targets."""
    for target in targets:
        folder = CORPUS / target
        folder.mkdir(parents=True, exist_ok=True)
        (folder / hashlib.sha1(data).hexdigest()).write_bytes(data)


def tags(data):
    lines = data.decode("latin-1").replace("\r\n", "\n").split("\n")
    return [(code.strip(), value) for code, value in zip(lines[::2], lines[1::2])]


def written(pairs):
    return "".join(f"{code}\n{value}\n" for code, value in pairs).encode("latin-1")


def sections(pairs):
    out, start = {}, None
    for i, (code, value) in enumerate(pairs):
        if (code, value) == ("0", "SECTION"):
            start = i
        elif (code, value) == ("0", "ENDSEC") and start is not None:
            out[pairs[start + 1][1]] = pairs[start : i + 1]
    return out


def header(section):
    """The head of the section and the variables that are read."""
    out, keep = [], True
    for code, value in section:
        if code == "9":
            keep = value in HEADER_KEPT
        elif code == "0":
            keep = True
        if keep:
            out.append((code, value))
    return out


def smaller(data):
    """The drawing without the sections and variables that are not read, and its entities alone."""
    parts = sections(tags(data))
    end = [("0", "EOF")]
    kept = [header(parts["HEADER"])] if "HEADER" in parts else []
    kept += [parts[name] for name in ("TABLES", "BLOCKS", "ENTITIES") if name in parts]
    yield written([tag for part in kept for tag in part] + end)
    bare = [tag for tag in parts.get("ENTITIES", []) if tag[0] not in ("5", "100", "330", "6", "62", "370")]
    yield written(bare + end)
    yield written(bare + end).replace(b"\n", b"\r\n")


def drawings():
    plans = sorted(ROOT.glob("fixtures/*/*.dxf"))
    for path in plans:
        data = path.read_bytes()
        small = [data] if data.startswith(b"AutoCAD Binary") else list(smaller(data))
        for seed in small + ([data] if len(data) < 16_384 else []):
            add(["scan", "read", "job"], seed)
        for seed in small[1:2]:
            record = {"id": path.parent.name, "dxf": seed.decode("latin-1"), "options": {"inset": "3in"}}
            add(["jsonl"], json.dumps(record).encode() + b"\n")
            add(["jsonl"], json.dumps(record | {"want": ["layout", "marks"]}).encode() + b"\n{\"id\": 1}\nx\n")


def texts():
    for path in sorted(ROOT.glob("src/catalog/*/*.toml")):
        add(["settings"], path.read_bytes())
    jobs = [
        'units = "in"\ninset = "3in"\nbays = "cost"\n',
        'system = "composite-36"\nrules = "irc-2021"\nmark = "1/16in"\nlongest-panel = "6ft"\nsymmetric = true\n',
        '[layers]\nedge = ["A-DECK*"]\nwall = ["A-WALL"]\n\n[shop]\nkerf = "1/8in"\ntrim = "1/2in"\n',
        '[[flights]]\nrisers = 11\nriser = "7-5/8in"\ntread = "10in"\n',
        '[project]\nname = "Deck"\nnorth = 12.5\n\n[rule-case]\n',
    ]
    for job in jobs:
        add(["settings"], job.encode())
    for text in ["63in", "5'-3 1/2\"", "3-1/2in", "5.25ft", "1600mm", "1/16", "7.75/10", "7-3/4in/10in", "190mm/250mm"]:
        add(["length"], text.encode())
    for text in ["11R 7-5/8 x 10", "RISERS\n11", "12R 190/250 UP", "TOTAL RISE 84in", "11R @ 7 5/8\" TREAD 10 NOSING 1"]:
        add(["stairs"], text.encode())
    add(["tables"], b"span,from,to,opening,top,bottom\nS1,P1,P2,5'-3\",,\nS2,P2,P3,,60,60 1/4in\n")
    add(["tables"], b"member,length,count\ntop-rail,71in,3\nbottom-rail,1800mm,\n")
    for line in [b'{"id": 1, "path": "a.dxf"}', b'{"id": null, "dxf": "0\\nEOF\\n"}', b"[]", b"", b'{"id": {"a": [1e2]}']:
        add(["jsonl"], line + b"\n")


def layouts(program):
    for case in ["corner-135", "stair-lines", "cable", "framed", "metric", "curved"]:
        with tempfile.TemporaryDirectory() as folder:
            plan = pathlib.Path(folder) / "plan.dxf"
            plan.write_bytes(next(smaller((ROOT / "fixtures" / case / "plan.dxf").read_bytes())))
            out = pathlib.Path(folder) / "out"
            command = [program, "layout", str(plan), "--formats", "json,rail", "--out", str(out)]
            assert subprocess.run(command, capture_output=True, check=False).returncode in (0, 1), case
            layout = json.loads((out / "layout.json").read_bytes())
            # Checks are not read, and half of the file.
            layout["checks"] = layout["checks"][:2]
            add(["layout_json"], json.dumps(layout, separators=(",", ":")).encode())
            add(["scan", "read", "job"], (out / "plan.rail.dxf").read_bytes())


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program")
    program = parser.parse_args().program
    drawings()
    texts()
    # Inputs that once broke something.
    for path in sorted(ROOT.glob("tests/hostile/*/*")):
        add([path.parent.name], path.read_bytes())
    if program:
        layouts(program)
    for folder in sorted(CORPUS.iterdir()):
        print(f"{folder.name}: {sum(1 for _ in folder.iterdir())} seeds")


if __name__ == "__main__":
    main()
