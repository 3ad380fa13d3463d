"""Lays a deck plan out with plumbrail, then draws on the result: a dimension and a callout for every panel that is wider
than a limit, on a layer of their own. Prints a table of all panels.

    python callouts.py PLAN.dxf --out DIR [--program plumbrail] [--wider INCHES]

Needs ezdxf (pip install ezdxf). What it shows of plumbrail: messages as JSON lines on standard error, the exit status,
layout.json for numbers, and <plan>.rail.dxf to draw on. The result is DIR/<plan>.callouts.dxf.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

import ezdxf
from ezdxf.enums import TextEntityAlignment
from ezdxf.math import Vec2

LAYER = "OFFICE-CALLOUTS"


def lay_out(program, plan, out):
    """Runs plumbrail; gives the layout and the drawing that it put the rails into."""
    command = [program, "layout", str(plan), "--out", str(out), "--formats", "rail,json", "--message-format", "json"]
    done = subprocess.run(command, capture_output=True, text=True)
    # Each line is one finding, or one error that ended the work.
    findings = [json.loads(line) for line in done.stderr.splitlines() if line.startswith("{")]
    # 0: complete, all checked limits met. 1: incomplete or limits broken, the files are written. 2 and 3: nothing is written.
    if done.returncode > 1:
        sys.exit("\n".join(f["message"] for f in findings) or done.stderr)
    for finding in findings:
        if finding.get("severity") in ("error", "incomplete"):
            print(f"{finding['severity']}[{finding['code']}]: {finding['message']}", file=sys.stderr)
    layout = json.loads((out / "layout.json").read_text(encoding="utf-8"))
    return layout, out / f"{plan.stem}.rail.dxf"


def table(layout):
    """One line a panel."""
    unit = layout["units"]
    lines = [f"{'panel':<6} {'from':<5} {'to':<5} {'clear ' + unit:>10} {'rail ' + unit:>10} {'balusters':>9} {'kit'}"]
    for panel in layout["panels"]:
        lines.append(
            f"{panel['id']:<6} {panel['from']:<5} {panel['to']:<5} {panel['span']:>10.3f} {panel['length']:>10.3f} "
            f"{panel['balusters']['count']:>9} {panel['kit'] or '-'}"
        )
    return "\n".join(lines)


def draw(document, layout, wider):
    """Dimensions and callouts of the panels that are wider; `wider` is in inches."""
    limit = wider if layout["units"] == "in" else wider * 25.4
    # Lengths are in `units`, places in the drawing's own units.
    per_inch = {"in": 1, "ft": 1 / 12, "yd": 1 / 36, "mm": 25.4, "cm": 2.54, "dm": 0.254, "m": 0.0254}
    inch = per_inch[layout["plan"]["drawing_units"]]
    document.layers.add(LAYER, color=1)
    style = document.dimstyles.duplicate_entry("Standard", LAYER)
    style.dxf.dimtxt, style.dxf.dimasz, style.dxf.dimgap = 5 * inch, 3 * inch, 1.5 * inch
    space = document.modelspace()
    drawn = []
    for panel in layout["panels"]:
        if panel["span"] <= limit:
            continue
        left = Vec2(panel["left"]["x"], panel["left"]["y"])
        right = Vec2(panel["right"]["x"], panel["right"]["y"])
        # The deck is on the right of the way from left to right, so this is the way outward.
        out = (right - left).orthogonal().normalize()
        space.add_aligned_dim(left, right, 18 * inch, dimstyle=LAYER, dxfattribs={"layer": LAYER}).render()
        place = (left + right) / 2 + out * 30 * inch
        text = f"{panel['id']}: check the opening on site"
        space.add_text(text, height=5 * inch, dxfattribs={"layer": LAYER}).set_placement(
            place, align=TextEntityAlignment.MIDDLE_CENTER
        )
        drawn.append(panel["id"])
    return drawn


def main():
    parser = argparse.ArgumentParser(description="callouts for wide panels")
    parser.add_argument("plan", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--program", default="plumbrail")
    parser.add_argument("--wider", type=float, default=72.0, help="inches; 72 by default")
    args = parser.parse_args()
    layout, drawing = lay_out(args.program, args.plan, args.out)
    document = ezdxf.readfile(drawing)
    drawn = draw(document, layout, args.wider)
    document.saveas(args.out / f"{args.plan.stem}.callouts.dxf")
    print(table(layout))
    print(f"{len(drawn)} of {len(layout['panels'])} panels are wider than {args.wider:g} in: {', '.join(drawn) or 'none'}")


if __name__ == "__main__":
    main()
