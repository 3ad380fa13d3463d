"""Lets LibreCAD draw drawings as they were and with the rails in them.

    python draw_librecad.py --before DIR --after DIR [--count 12]

For each chosen BEFORE/x.dxf and AFTER/x.rail.dxf LibreCAD's converter must end by itself with a PDF page, and the second
page must hold more than the first. A drawing that it does not draw without the rails either (it never ends on binary R12
and on bare carriage returns) is told and not counted as drawn. Needs the program `librecad` (2.2, as Debian has it); without it the check fails.
"""

import argparse
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import zlib

SECONDS = 40
PROGRAM = "librecad"


def drawn(path, folder):
    """How many drawing operators the page has, or what went wrong."""
    pdf = folder / f"{path.stem}.pdf"
    command = [PROGRAM, "dxf2pdf", "-a", "-t", str(folder), str(path)]
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "XDG_RUNTIME_DIR": str(folder)}
    try:
        ended = subprocess.run(command, env=environment, capture_output=True, timeout=SECONDS)
    except subprocess.TimeoutExpired:
        return 0, f"no end after {SECONDS} s"
    if ended.returncode or not pdf.exists():
        return 0, f"exit status {ended.returncode}: {ended.stderr.decode(errors='replace')[-300:]}"
    operators = 0
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf.read_bytes(), re.DOTALL):
        try:
            page = zlib.decompress(stream)
        except zlib.error:
            continue
        operators += len(re.findall(rb"\s(?:l|c|re|Do|Tj|TJ|f|S)\s", page))
    return operators, None


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--before", type=pathlib.Path, required=True)
    parser.add_argument("--after", type=pathlib.Path, required=True)
    parser.add_argument("--count", type=int, default=12, help="how many, spread over all; 0 for all")
    args = parser.parse_args()
    if shutil.which(PROGRAM) is None:
        sys.exit(f"FAILED there is no program {PROGRAM}")
    files = sorted(args.before.glob("*.dxf"))
    step = max(1, len(files) // args.count) if args.count else 1
    chosen = files[::step]
    bad = good = 0
    for before in chosen:
        with tempfile.TemporaryDirectory() as folder:
            old, old_problem = drawn(before, pathlib.Path(folder))
            if old_problem:
                print(f"{before.name}: not drawn without the rails either: {old_problem}")
                continue
            new, problem = drawn(args.after / f"{before.stem}.rail.dxf", pathlib.Path(folder))
        if problem or new <= old:
            print(f"{before.name}: {problem or f'{old} strokes before, {new} after'}", file=sys.stderr)
            bad += 1
        else:
            print(f"{before.name}: {old} strokes before, {new} after")
            good += 1
    if bad or not good:
        sys.exit(f"FAILED {bad} of {len(chosen)} drawings")
    print(f"OK {good} of {len(chosen)} drawings drawn by {PROGRAM}, as without the rails")


if __name__ == "__main__":
    main()
