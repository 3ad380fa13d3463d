"""Opens plans and puts rails into drawings within Inkscape, through the installed adapter, and measures what comes out.

    python3 tests/adapters/in_inkscape.py

Inkscape itself does the work; what is compared with is what `layout.json` says.
"""

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
PROFILE = os.environ["INKSCAPE_PROFILE_DIR"]
ADAPTER = os.path.join(PROFILE, "extensions", "plumbrail")
sys.path.insert(0, ADAPTER)
import plumbrail_call  # noqa: E402

SVG = "{http://www.w3.org/2000/svg}"
INK = "{http://www.inkscape.org/namespaces/inkscape}"
# Inkscape starts in 2 to 6 s; a dialog that waits for somebody would wait for ever.
SECONDS = 120
CHECKS = []


def same(found, expected, what):
    assert found == expected, f"{what}: found {found!r}, expected {expected!r}"
    CHECKS.append(what)


def near(found, expected, what, within):
    assert abs(found - expected) <= within, f"{what}: found {found}, expected {expected}"
    CHECKS.append(what)


def inkscape(*args):
    command = ["xvfb-run", "-a", "inkscape", *args]
    ran = subprocess.run(command, capture_output=True, timeout=SECONDS, stdin=subprocess.DEVNULL)
    return ran.stdout.decode("utf-8", "replace") + ran.stderr.decode("utf-8", "replace")


def plan(case):
    return os.path.join(ROOT, "fixtures", case, "plan.dxf")


def layers(element):
    """Label of each layer with its group."""
    groups = [g for g in element.iter(f"{SVG}g") if g.get(f"{INK}groupmode") == "layer"]
    return {g.get(f"{INK}label"): g for g in groups}


def scale_of(svg):
    """Millimetres in one user unit."""
    number, unit = re.fullmatch(r"([0-9.]+)(mm|in)", svg.get("width")).groups()
    return float(number) * {"mm": 1.0, "in": 25.4}[unit] / float(svg.get("viewBox").split()[2])


def centres(layer):
    """Id and middle of each post, in user units."""
    out = {}
    for path in layer.iter(f"{SVG}path"):
        if path.get("data-kind") == "post":
            numbers = corners(path.get("d"))
            out[path.get("data-object")] = (sum(numbers[0::2]) / 4, sum(numbers[1::2]) / 4)
    return out


def corners(d):
    """Numbers of a path of four corners, all absolute: x and y by turns."""
    assert re.fullmatch(r"M[^A-Za-z]*(L[^A-Za-z]*){3}Z", d), d
    return [float(n) for n in re.findall(r"-?[0-9.]+", d)]


def compare(found, layout, millimetres):
    """Posts as far apart as `layout.json` says, and y upwards there; within what three decimals on paper can show."""
    same(sorted(found), sorted(p["id"] for p in layout["posts"]), "ids of the posts")
    unit = {"in": 25.4, "mm": 1.0}[layout["plan"]["drawing_units"]]
    first = layout["posts"][0]
    x0, y0 = found[first["id"]]
    for post in layout["posts"]:
        x, y = found[post["id"]]
        near((x - x0) * millimetres, (post["x"] - first["x"]) * unit, f"{post['id']} x", 0.1)
        near((y0 - y) * millimetres, (post["y"] - first["y"]) * unit, f"{post['id']} y", 0.1)


def a_plan_opens_as_layers(folder):
    for case in ("lakeside", "metric"):
        path = os.path.join(folder, f"{case}.deck.dxf")
        shutil.copy(plan(case), path)
        out = os.path.join(folder, f"{case}.svg")
        said = inkscape(path, f"--export-filename={out}")
        assert os.path.exists(out), said
        svg = ET.parse(out).getroot()
        found = layers(svg)
        names = ["RAIL-SHEET", "RAIL-LINE", "RAIL-PANEL", "RAIL-POST", "RAIL-DIMS", "RAIL-TEXT"]
        same(list(found), names, "layers")
        layout = json.loads(plumbrail_call.layout(path, "json").data)
        # True size: what is measured in the drawing is what stands on the deck.
        compare(centres(found["RAIL-POST"]), layout, scale_of(svg))
        words = " ".join(svg.itertext())
        same(("Scale " in words, "At its own size. Dimensions" in words), (False, True), "what is said of the scale")
        unit = {"in": "in", "mm": "mm"}[layout["plan"]["drawing_units"]]
        view = next(e for e in svg if e.tag.endswith("namedview"))
        same(view.get(f"{INK}document-units"), unit, "unit of the document")


def settings(**fields):
    """What somebody chose in the dialog of the extension the last time."""
    fields = " ".join(f'plumbrail.insert.{name}="{value}"' for name, value in fields.items())
    with open(os.path.join(PROFILE, "preferences.xml"), "w", encoding="utf-8") as out:
        out.write(
            '<inkscape version="1" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape">'
            f'<group id="extensions" {fields}/></inkscape>'
        )


def rails_come_into_an_open_drawing(folder):
    drawing, out = os.path.join(folder, "mine.svg"), os.path.join(folder, "with.svg")
    with open(drawing, "w", encoding="utf-8") as file:
        file.write(
            '<svg xmlns="http://www.w3.org/2000/svg" width="297mm" height="210mm" viewBox="0 0 594 420">'
            '<rect id="RAIL-POST" x="1" y="1" width="5" height="5"/></svg>'
        )
    job = os.path.join(folder, "job.toml")
    with open(job, "w", encoding="utf-8") as file:
        file.write('inset = "150mm"\n')
    for size in ("paper", "full"):
        settings(plan=plan("metric"), size=size, job=job)
        # Twice: the second run replaces what the first one put there.
        for source in (drawing, out):
            actions = f"plumbrail.insert.noprefs;export-filename:{out};export-do"
            said = inkscape("--batch-process", source, f"--actions={actions}")
            assert os.path.exists(out), said
            svg = ET.parse(out).getroot()
            tops = [g for g in svg if g.get("data-rails-of")]
            same([g.get(f"{INK}label") for g in tops], ["Rails of plan.dxf"], "layer with the rails")
            same(len([e for e in svg.iter() if e.get("id") == "RAIL-POST"]), 1, "the user's own")
        done = plumbrail_call.layout(plan("metric"), "svg", ("--job", job))
        own = float(re.fullmatch(r"scale\(([0-9.]+)\)", tops[0].get("transform"))[1])
        layout = json.loads(plumbrail_call.layout(plan("metric"), "json", ("--job", job)).data)
        # The drawing has half a millimetre a unit; on paper the deck is smaller by the scale.
        smaller = done.summary["plan_scale"] if size == "paper" else 1.0
        compare(centres(layers(tops[0])["RAIL-POST"]), layout, own * 0.5 * smaller)
        os.remove(out)


def run(*args):
    """The script as Inkscape starts it."""
    command = [sys.executable, os.path.join(ADAPTER, "plumbrail_svg.py"), *args]
    ran = subprocess.run(command, capture_output=True, timeout=SECONDS)
    return ran.returncode, ran.stdout, ran.stderr.decode()


def what_cannot_be_opened_is_told(folder):
    for args, word in (
        ([plan("unitless")], "unit"),
        ([plan("wrong-layers")], "hint: "),
        ([os.path.join(folder, "none.dxf")], "there is no file"),
        (["--work=insert", "--plan=", os.path.join(folder, "mine.svg")], "no deck plan was named"),
    ):
        status, out, err = run(*args)
        same((status, out), (1, b""), word)
        assert word in err and "Traceback" not in err, err
    # What is incomplete and breaks a limit opens, and is told.
    status, out, err = run(plan("stair-steep"))
    same((status, ET.fromstring(out).tag), (0, f"{SVG}svg"), "a plan with a broken limit")
    assert "error: " in err and "incomplete: " in err, err
    # The program is gone.
    moved = os.path.join(folder, "moved")
    shutil.copytree(ADAPTER, moved)
    call = os.path.join(moved, "plumbrail_call.py")
    with open(call, encoding="utf-8") as file:
        text = re.sub(r'(?m)^PROGRAM = .*$', 'PROGRAM = "/nowhere/plumbrail"', file.read())
    with open(call, "w", encoding="utf-8") as file:
        file.write(text)
    command = [sys.executable, os.path.join(moved, "plumbrail_svg.py"), plan("lakeside")]
    ran = subprocess.run(command, capture_output=True, timeout=SECONDS, env={**os.environ, "PATH": "/usr/bin:/bin"})
    same((ran.returncode, ran.stdout), (1, b""), "status without the program")
    said = ran.stderr.decode()
    # One on the PATH takes its place.
    path = os.path.dirname(plumbrail_call.program()) + ":/usr/bin:/bin"
    ran = subprocess.run(command, capture_output=True, timeout=SECONDS, env={**os.environ, "PATH": path})
    same(ran.returncode, 0, "status with the program on the PATH")
    assert "plumbrail was not found at /nowhere/plumbrail" in said and "plumbrail adapters install" in said, said


def other_files_are_left_to_inkscape(folder):
    """A file that ends in .dxf alone is not ours: Inkscape's own importer asks for its scale, which needs a window."""
    path, out = os.path.join(folder, "plain.dxf"), os.path.join(folder, "plain.svg")
    shutil.copy(plan("metric"), path)
    environment = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    command = ["inkscape", path, f"--export-filename={out}"]
    subprocess.run(command, capture_output=True, timeout=SECONDS, stdin=subprocess.DEVNULL, env=environment)
    text = ""
    if os.path.exists(out):
        with open(out, encoding="utf-8") as file:
            text = file.read()
    same("RAIL-" in text, False, "rails in a file that is not ours")


def main():
    for check in (
        a_plan_opens_as_layers,
        rails_come_into_an_open_drawing,
        what_cannot_be_opened_is_told,
        other_files_are_left_to_inkscape,
    ):
        with tempfile.TemporaryDirectory() as folder:
            with open(os.path.join(folder, "mine.svg"), "w", encoding="utf-8") as file:
                file.write('<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10"/>')
            check(folder)
        print(f"{check.__name__}: ok", flush=True)
    version = subprocess.run(["inkscape", "--version"], capture_output=True, text=True).stdout.split("(")[0].strip()
    print(f"{len(CHECKS)} checks in {version}")


main()
