"""Asks ezdxf and GDAL what is in the paper spaces of a DXF file.

    python paper_space.py --expect EXPECTED.json FILE...

For every page expected: a layout of that name, in that order behind the model, with the sheet's size, unit and limits; one
locked window for each view, whose scale (view height by window height, in one unit) is the drawing's to 1e-9, and whose
corners show the drawing's corners; texts and outlines on their layers. Entities of the current paper space must be as many
for GDAL as for ezdxf on each layer. No window shows in model space.
"""

import argparse
import collections
import json
import sys

import ezdxf
import pyogrio

from audit_dxf import BINARY

NEAR = 1e-9


def near(a, b, scale=1.0):
    return abs(a - b) <= NEAR * max(1.0, abs(scale))


def window_problems(window, wanted, expected, paper_mm):
    """A window against the view that it stands for."""
    unit = expected["unit_mm"] / paper_mm
    dxf = window.dxf
    scale = dxf.view_height / dxf.height * unit
    if not near(scale, wanted["paper"], wanted["paper"]):
        yield f"scale {scale!r} instead of {wanted['paper']!r}"
    if not dxf.flags & 16384:
        yield "its scale is not locked"
    if dxf.status < 1 or dxf.flags & 131072:
        yield "it is off"
    per_paper = dxf.view_height / dxf.height
    for axis, name in enumerate("xy"):
        half = (dxf.width, dxf.height)[axis] / 2
        low = dxf.view_center_point[axis] - half * per_paper
        high = dxf.view_center_point[axis] + half * per_paper
        size = abs(wanted["low"][axis]) + abs(wanted["high"][axis])
        if not (near(low, wanted["low"][axis], size) and near(high, wanted["high"][axis], size)):
            yield f"shows {name} from {low!r} to {high!r} instead of {wanted['low'][axis]!r} to {wanted['high'][axis]!r}"
        if not near(dxf.center[axis] - half, wanted["at"][axis]):
            yield f"begins at {name} = {dxf.center[axis] - half!r} instead of {wanted['at'][axis]!r}"


def page_problems(layout, page, expected):
    paper_mm = 25.4 if expected["imperial"] else 1.0
    dxf = layout.dxf
    width, height = page["size_mm"]
    if not (near(dxf.paper_width, width) and near(dxf.paper_height, height)) or dxf.plot_rotation != 0:
        yield f"paper {dxf.paper_width} x {dxf.paper_height}, turned {dxf.plot_rotation}"
    if dxf.plot_paper_units != (0 if expected["imperial"] else 1):
        yield f"paper unit {dxf.plot_paper_units}"
    if (dxf.scale_numerator, dxf.scale_denominator) != (1, 1):
        yield "is not plotted 1:1"
    for what, (low, high) in {"limits": (dxf.limmin, dxf.limmax), "extents": (dxf.extmin, dxf.extmax)}.items():
        if not (near(low[0], 0) and near(low[1], 0) and near(high[0] * paper_mm, width) and near(high[1] * paper_mm, height)):
            yield f"{what} {low} to {high}"
    windows = sorted(layout.query("VIEWPORT"), key=lambda v: v.dxf.id)
    if not windows or windows[0].dxf.id != 1 or dxf.get("viewport_handle") != windows[0].dxf.handle:
        yield "has no window of its own as its first"
        return
    if [w.dxf.id for w in windows] != list(range(1, len(windows) + 1)):
        yield "windows are not numbered one by one"
    if len(windows) - 1 != len(page["windows"]):
        yield f"{len(windows) - 1} windows instead of {len(page['windows'])}"
    layers = layout.doc.layers
    for window, wanted in zip(windows[1:], page["windows"]):
        yield from (f"window {window.dxf.id}: {p}" for p in window_problems(window, wanted, expected, paper_mm))
        if layers.get(window.dxf.layer).dxf.plot:
            yield f"the frame of window {window.dxf.id} is plotted"
    counts = collections.Counter((e.dxf.layer, e.dxftype()) for e in layout)
    for layer, kinds in page["at_least"].items():
        for kind, number in kinds.items():
            if counts[layer, kind] < number:
                yield f"{counts[layer, kind]} {kind} on {layer} instead of at least {number}"
    for entity in layout:
        if not entity.dxf.get("paperspace", 0) or entity.dxf.owner != layout.layout_key:
            yield f"{entity} does not belong to the paper"
    if not page["windows"] and len(layout) < 50:
        yield f"holds {len(layout)} entities: a drawing that no window shows is missing"


def gdal_problems(path, doc):
    """Entities of the current paper space by layer. A DIMENSION is taken apart, but keeps its handle."""
    pyogrio.set_gdal_config_options({"DXF_INLINE_BLOCKS": "FALSE"})
    meta, _, _, columns = pyogrio.raw.read(path, layer="entities", read_geometry=False)
    fields = dict(zip(meta["fields"], columns))
    rows = zip(fields["Layer"], fields["EntityHandle"], fields["PaperSpace"])
    theirs = collections.Counter(layer for layer, handle in {(layer, handle) for layer, handle, paper in rows if paper == 1})
    active = doc.layouts.active_layout()
    ours = collections.Counter(e.dxf.layer for e in active if e.dxftype() != "VIEWPORT")
    for layer in ours.keys() | theirs.keys():
        if ours[layer] != theirs[layer]:
            yield f"{layer} on paper: {ours[layer]} by ezdxf, {theirs[layer]} by GDAL"


def check(path, expected):
    doc = ezdxf.readfile(path)
    problems = []
    names = doc.layout_names_in_taborder()
    # R12 has one layout, by ezdxf's name.
    wanted = ["Model", *(page["name"] for page in expected["pages"]), "Layout1"]
    if names != wanted:
        problems.append(f"layouts {names} instead of {wanted}")
    blocks = [layout.block_record_name for layout in doc.layouts if not layout.is_modelspace]
    if sorted(blocks) != sorted({*blocks}) or "*Paper_Space" not in blocks:
        problems.append(f"blocks {blocks}")
    if doc.header["$PSLTSCALE"] != 0 or doc.header["$TILEMODE"] != 1 or doc.header["$LTSCALE"] != 1:
        problems.append("the header scales line types otherwise")
    problems += [f"a {e.dxftype()} in the current paper space" for e in doc.layouts.active_layout()]
    problems += [f"a {e.dxftype()} in model space" for e in doc.modelspace().query("VIEWPORT")]
    windows = 0
    for page in expected["pages"]:
        if page["name"] in names:
            problems += [f"{page['name']}: {p}" for p in page_problems(doc.paperspace(page["name"]), page, expected)]
            windows += len(page["windows"])
    with open(path, "rb") as file:
        if file.read(len(BINARY)) != BINARY:
            problems += gdal_problems(path, doc)
    return problems, windows


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--expect", required=True)
    parser.add_argument("files", nargs="+")
    args = parser.parse_args()
    with open(args.expect, encoding="utf-8") as file:
        expected = json.load(file)
    total = 0
    for path in args.files:
        problems, windows = check(path, expected)
        for problem in problems:
            print(f"{path}: {problem}", file=sys.stderr)
        if problems:
            sys.exit(f"FAILED {path}")
        total += windows
    print(f"OK {len(args.files)} files, {total} windows at their scale")


if __name__ == "__main__":
    main()
