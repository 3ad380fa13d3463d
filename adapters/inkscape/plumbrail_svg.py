# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
"""Opens a DXF deck plan with its guard rails as layers of an Inkscape drawing, or puts them into the open one.

    plumbrail_svg.py PLAN.dxf                                       the drawing on standard output
    plumbrail_svg.py --work=insert --plan=PLAN.dxf DRAWING.svg      DRAWING.svg with the layers in it on standard output

Standard library only. Nothing is laid out here: the program plumbrail does that.
"""

import argparse
import re
import sys
import xml.etree.ElementTree as ET

import plumbrail_call

SVG = "http://www.w3.org/2000/svg"
INKSCAPE = "http://www.inkscape.org/namespaces/inkscape"
SODIPODI = "http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd"
# Prefixes that drawings have; all others are kept by `ElementTree` under names of its own.
PREFIXES = {
    "": SVG,
    "inkscape": INKSCAPE,
    "sodipodi": SODIPODI,
    "xlink": "http://www.w3.org/1999/xlink",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "cc": "http://creativecommons.org/ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
}
# Lengths in mm (CSS: 96 px are 1 in).
MILLIMETRES = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96, "": 25.4 / 96}
# A layer of ours is known by this attribute.
MARK = "data-rails-of"


def main():
    for prefix, name in PREFIXES.items():
        ET.register_namespace(prefix, name)
    args = arguments().parse_args()
    try:
        plan = args.file if args.work == "open" else args.plan
        if not plan:
            raise plumbrail_call.Trouble("no deck plan was named\n  hint: choose a DXF file")
        options = () if args.units == "file" else ("--units", args.units)
        options += ("--job", args.job) if args.job else ()
        done = plumbrail_call.layout(plan, "svg", options)
        rails = ET.fromstring(done.data)
        size = done.summary["plan_scale"] if args.size == "full" else 1.0
        if args.size == "full":
            without_scale(rails)
        if args.work == "open":
            drawing = opened(rails, size, done.summary["drawing_units"])
        else:
            drawing = inserted(ET.parse(args.file).getroot(), rails, size, plan)
    except plumbrail_call.Trouble as trouble:
        print(trouble, file=sys.stderr)
        return 1
    ET.ElementTree(drawing).write(sys.stdout.buffer, encoding="utf-8", xml_declaration=True)
    serious = [m for m in done.findings if m["severity"] != "note"]
    for message in serious:
        print(plumbrail_call.told(message), file=sys.stderr)
    if serious:
        print(done.sentence(), file=sys.stderr)
    return 0


def arguments():
    # Inkscape gives the fields of an INX file as options, and the file that it is about last.
    parser = argparse.ArgumentParser()
    parser.add_argument("--work", choices=["open", "insert"], default="open")
    parser.add_argument("--plan")
    parser.add_argument("--job")
    parser.add_argument("--size", choices=["full", "paper"], default="full")
    parser.add_argument("--units", default="file")
    parser.add_argument("--id", action="append", help="selected objects; not used")
    parser.add_argument("--selected-nodes", action="append", help="not used")
    parser.add_argument("file")
    return parser


def without_scale(rails):
    """The note on the plan names the scale that it has on paper, which is not that of a drawing at the deck's own size."""
    for text in rails.iter(f"{{{SVG}}}text"):
        if text.text and text.get("data-kind") == "notes":
            text.text = re.sub(r"^Scale .+?\. (?=[A-Z])", "At its own size. ", text.text)


def layers(rails):
    """The groups of the picture that are layers, marked as such for Inkscape."""
    groups = [g for g in rails if g.tag == f"{{{SVG}}}g" and g.get("id")]
    for group in groups:
        group.set(f"{{{INKSCAPE}}}groupmode", "layer")
        group.set(f"{{{INKSCAPE}}}label", group.get("id"))
    return groups


def opened(rails, size, units):
    """A drawing of its own: its page is the picture, `size` times as large as on paper."""
    unit = "in" if units in ("in", "ft", "yd") else "mm"
    layers(rails)
    for side in ("width", "height"):
        rails.set(side, f"{length(rails.get(side)) * size / MILLIMETRES[unit]:.6f}{unit}")
    view = ET.Element(f"{{{SODIPODI}}}namedview", {f"{{{INKSCAPE}}}document-units": unit, "units": unit})
    rails.insert(0, view)
    return rails


def inserted(drawing, rails, size, plan):
    """The layers within one layer of the open drawing, in place of those that an earlier run put there."""
    for parent in list(drawing.iter()):
        for child in [c for c in parent if c.get(MARK) == plan]:
            parent.remove(child)
    taken = {e.get("id") for e in drawing.iter()}
    scale = size / user_unit(drawing)
    top = ET.SubElement(drawing, f"{{{SVG}}}g", {MARK: plan, "transform": f"scale({scale:.9g})"})
    top.set("id", free("rails", taken))
    top.set(f"{{{INKSCAPE}}}groupmode", "layer")
    top.set(f"{{{INKSCAPE}}}label", "Rails of " + re.split(r"[\\/]", plan)[-1])
    for name in ("font-family", "font-stretch"):
        if rails.get(name):
            top.set(name, rails.get(name))
    for layer in layers(rails):
        layer.set("id", free(layer.get("id"), taken))
        top.append(layer)
    return drawing


def free(name, taken):
    """An id that nothing has yet."""
    names = [name] + [f"{name}-{i}" for i in range(2, len(taken) + 3)]
    chosen = next(n for n in names if n not in taken)
    taken.add(chosen)
    return chosen


def user_unit(drawing):
    """Millimetres in one user unit of a drawing."""
    box = [float(n) for n in re.split(r"[\s,]+", (drawing.get("viewBox") or "").strip()) if n]
    width = drawing.get("width")
    if len(box) != 4 or box[2] <= 0 or not width or width.endswith("%"):
        return MILLIMETRES["px"]
    return length(width) / box[2]


def length(text):
    """A length of an SVG attribute in mm."""
    found = re.fullmatch(r"\s*([0-9.]+(?:[eE][+-]?[0-9]+)?)\s*([a-z]*)\s*", text or "")
    if not found or found[2] not in MILLIMETRES:
        raise plumbrail_call.Trouble(f"the drawing's width `{text}` is no length that is known here")
    return float(found[1]) * MILLIMETRES[found[2]]


if __name__ == "__main__":
    sys.exit(main())
