"""Opens a DXF in a real program and saves it as DXF by that program's own writer.

    save_by.py WRITER IN.dxf OUT.dxf [--dxf-version R2010]
    save_by.py --list
    save_by.py --setup

Writers, pinned where a registry has them (requirements-*.txt, package-lock.json), the others as Debian 12 has them:

    ezdxf-0.17.2, -1.0.3, -1.4.5    the library, each in an environment of its own
    librecad                        LibreCAD 2.2 in its window, File > Save As, by xdotool under xvfb-run
    freecad, freecad-layers         FreeCAD 0.20 without a window: importer and exporter in C++; "group layers" off, on
    ogr2ogr, ogr2ogr-blocks         GDAL 3.6: block references written out, and kept
    inkscape                        Inkscape 1.2: its DXF input, then its output "R14" (both are scripts)
    npm-dxf                         dxf-json reads, @tarikjabiri/dxf writes
    npm-writer                      dxf-parser reads, dxf-writer writes

What they need lies in target/roundtrip of the checkout and is made by `--setup` (pip and npm). A writer that cannot
run ends with an error that says why; none is skipped. FreeCAD's exporter in Python is not among them: it wants a library that no
registry has.
"""

import argparse
import itertools
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import venv

HERE = pathlib.Path(__file__).resolve().parent
KIT = HERE.parents[1] / "target" / "roundtrip"
SECONDS = 120
EZDXF = ["0.17.2", "1.0.3", "1.4.5"]
# Whether "group layers" is on.
FREECAD = {"freecad": False, "freecad-layers": True}
NPM = {"npm-dxf": "dxf", "npm-writer": "writer"}
WRITERS = [*(f"ezdxf-{v}" for v in EZDXF), "librecad", *FREECAD, "ogr2ogr", "ogr2ogr-blocks", "inkscape", *NPM]
# Debian's Inkscape runs its scripts by Debian's Python.
PYTHON = "/usr/bin/python3"
INKSCAPE = pathlib.Path("/usr/share/inkscape/extensions")


DISPLAYS = itertools.count(120 + os.getpid() % 50 * 40, 20)


class CannotSave(Exception):
    """The writer cannot run, or gave no drawing."""


def program(name):
    found = shutil.which(name)
    if found is None:
        raise CannotSave(f"there is no program {name}")
    return found


def run(*command, seconds=SECONDS, **options):
    command = [str(c) for c in command]
    try:
        ended = subprocess.run(command, capture_output=True, text=True, errors="replace", timeout=seconds, stdin=subprocess.DEVNULL, **options)
    except subprocess.TimeoutExpired as error:
        raise CannotSave(f"{pathlib.Path(command[0]).name} did not end within {seconds} s") from error
    if ended.returncode:
        raise CannotSave(f"{pathlib.Path(command[0]).name} ended with {ended.returncode}: {(ended.stderr or ended.stdout)[-600:].strip()}")
    return ended.stdout


def home(folder):
    """An environment in which a program finds no settings of the user's, and leaves none."""
    runtime = folder / "runtime"
    runtime.mkdir(mode=0o700, exist_ok=True)
    (folder / ".config").mkdir(exist_ok=True)
    return os.environ | {
        "HOME": str(folder),
        "XDG_CONFIG_HOME": str(folder / ".config"),
        "XDG_DATA_HOME": str(folder / ".local"),
        "XDG_CACHE_HOME": str(folder / ".cache"),
        "XDG_RUNTIME_DIR": str(runtime),
        "LC_ALL": "C.UTF-8",
    }


def setup():
    KIT.mkdir(parents=True, exist_ok=True)
    for version in EZDXF:
        folder = KIT / f"ezdxf-{version}"
        if not (folder / "bin" / "python").exists():
            venv.create(folder, with_pip=True)
        run(folder / "bin" / "pip", "install", "--quiet", "-r", HERE / f"requirements-ezdxf-{version}.txt", seconds=600)
    npm = KIT / "npm"
    npm.mkdir(exist_ok=True)
    for name in ["package.json", "package-lock.json"]:
        shutil.copy(HERE / name, npm / name)
    run(program("npm"), "ci", "--silent", cwd=npm, seconds=600)


def by_ezdxf(writer, pairs, dxf_version=None):
    version = writer.removeprefix("ezdxf-")
    python = KIT / writer / "bin" / "python"
    if not python.exists():
        raise CannotSave(f"there is no {python}; run save_by.py --setup")
    script = (
        "import ezdxf, json, sys\n"
        f"assert ezdxf.__version__ == {version!r}, ezdxf.__version__\n"
        "for source, target in json.loads(sys.argv[1]):\n"
        "    doc = ezdxf.readfile(source)\n"
        "    if sys.argv[2]: doc.dxfversion = sys.argv[2]\n"
        "    doc.saveas(target)\n"
    )
    run(python, "-c", script, json.dumps([[str(s), str(t)] for s, t in pairs]), dxf_version or "")


def by_freecad(writer, pairs):
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        jobs = folder / "jobs.json"
        jobs.write_text(json.dumps({"pairs": [[str(s), str(t)] for s, t in pairs], "grouped": FREECAD[writer]}))
        said = run(program("freecadcmd"), HERE / "in_freecad.py", env=home(folder) | {"ROUNDTRIP_JOBS": str(jobs)}, seconds=SECONDS + 5 * len(pairs))
        if "ROUNDTRIP-FAILED" in said:
            raise CannotSave("; ".join(line for line in said.splitlines() if line.startswith("ROUNDTRIP-FAILED")))


def by_ogr(writer, pairs):
    keep = ["--config", "DXF_INLINE_BLOCKS", "FALSE"] if writer == "ogr2ogr-blocks" else []
    for source, target in pairs:
        run(program("ogr2ogr"), *keep, "-f", "DXF", target, source)


def by_inkscape(_writer, pairs):
    """The program's own two scripts; with it between them the output was the same to the byte.

    POLY, the output as polylines, is off: with it the script fails on a drawing whose first line is a curve."""
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        svg = folder / "drawing.svg"
        for source, target in pairs:
            svg.write_text(run(PYTHON, INKSCAPE / "dxf_input.py", "--scalemethod", "file", source, env=home(folder)))
            options = ["--POLY", "false", "--unit_from_document", "true", "--output", target]
            run(PYTHON, INKSCAPE / "dxf_outlines.py", *options, svg, env=home(folder))


def by_npm(writer, pairs):
    folder = KIT / "npm" / "node_modules"
    if not folder.exists():
        raise CannotSave(f"there is no {folder}; run save_by.py --setup")
    arguments = [str(path) for pair in pairs for path in pair]
    run(program("node"), HERE / "by_npm.cjs", NPM[writer], folder, *arguments)


def by_librecad(_writer, pairs):
    for name in ["librecad", "xdotool", "xvfb-run"]:
        program(name)
    # Two that look for a free display at the same time must not find the same one.
    screen = ["-a", "-n", str(next(DISPLAYS)), "-s", "-screen 0 1400x1000x24"]
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        settings = folder / ".config" / "LibreCAD" / "LibreCAD.conf"
        environment = home(folder)
        settings.parent.mkdir()
        settings.write_text("[Startup]\nFirstLoad=0\nShowWelcome=0\n\n[Defaults]\nUseQtFileOpenDialog=1\n")
        arguments = [str(path) for pair in pairs for path in pair]
        run(program("xvfb-run"), *screen, sys.executable, HERE / "in_librecad.py", folder, *arguments, env=environment, seconds=SECONDS * (1 + len(pairs) // 4))


def save(writer, pairs, dxf_version=None):
    """Lets the writer open each drawing and save it anew; the targets must not exist."""
    pairs = [(pathlib.Path(s).resolve(), pathlib.Path(t).resolve()) for s, t in pairs]
    for source, target in pairs:
        if not source.exists():
            raise CannotSave(f"there is no {source}")
        target.unlink(missing_ok=True)
    if writer.startswith("ezdxf-"):
        by_ezdxf(writer, pairs, dxf_version)
    elif dxf_version:
        raise CannotSave(f"{writer} has no choice of the DXF version")
    else:
        by = {"librecad": by_librecad, "inkscape": by_inkscape} | dict.fromkeys(FREECAD, by_freecad) | dict.fromkeys(NPM, by_npm)
        by.get(writer, by_ogr)(writer, pairs)
    for _, target in pairs:
        if not target.exists() or b"EOF" not in target.read_bytes()[-20:]:
            raise CannotSave(f"{writer} wrote no whole {target.name}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("writer", nargs="?", choices=WRITERS)
    parser.add_argument("source", nargs="?")
    parser.add_argument("target", nargs="?")
    parser.add_argument("--dxf-version", help="that ezdxf shall write")
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--setup", action="store_true")
    args = parser.parse_args()
    try:
        if args.list:
            print("\n".join(WRITERS))
        elif args.setup:
            setup()
        elif args.target is None:
            parser.error("a writer and two drawings are needed")
        else:
            save(args.writer, [(args.source, args.target)], args.dxf_version)
    except CannotSave as error:
        sys.exit(f"FAILED {args.writer or ''} {error}")


if __name__ == "__main__":
    main()
