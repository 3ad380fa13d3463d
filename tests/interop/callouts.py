"""Runs examples/python/callouts.py on plans and looks at what it drew.

    callouts.py EXAMPLE.py OUT --program PROGRAM PLAN...

The drawing passes ezdxf's audit, every entity that plumbrail put in is there as before, the example's own layer holds one
dimension and one text for each wide panel counted here from layout.json, and each text stands outside of the deck.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

import ezdxf


def entities(document, layer=None, but=None):
    """What stands in model space, by handle."""
    out = {}
    for entity in document.modelspace():
        if entity.dxf.layer != but and layer in (None, entity.dxf.layer):
            # ezdxf writes `version` into every dimension that it saves, and leaves out what is as usual.
            tags = entity.dxf.all_existing_dxf_attribs()
            usual = [("halign", 0), ("valign", 0), ("rotation", 0)]
            tags = {k: v for k, v in tags.items() if k != "version" and (k, v) not in usual}
            xdata = entity.get_xdata("PLUMBRAIL") if entity.has_xdata("PLUMBRAIL") else []
            out[entity.dxf.handle] = (entity.dxftype(), repr(sorted(tags.items(), key=str)), repr(list(xdata)))
    return out


def check(args, plan):
    out = args.out / plan.parent.name
    command = [sys.executable, args.example, plan, "--out", out, "--program", args.program]
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    layout = json.loads((out / "layout.json").read_text())
    limit = 72.0 if layout["units"] == "in" else 72.0 * 25.4
    wide = [p for p in layout["panels"] if p["span"] > limit]
    before, after = (ezdxf.readfile(out / f"{plan.stem}.{kind}.dxf") for kind in ("rail", "callouts"))
    audit = after.audit()
    assert not audit.errors and not audit.fixes, [e.message for e in audit.errors + audit.fixes]
    own = entities(after, layer="OFFICE-CALLOUTS")
    kinds = sorted(kind for kind, _, _ in own.values())
    assert kinds == ["DIMENSION"] * len(wide) + ["TEXT"] * len(wide), kinds
    ours, kept = entities(before), entities(after, but="OFFICE-CALLOUTS")
    changed = [(ours[h], kept.get(h)) for h in ours if ours[h] != kept.get(h)]
    assert ours == kept and ours, f"{len(ours)} before, {len(kept)} after: {changed[:1]}"
    texts = {e.dxf.text.split(":")[0]: e for e in after.modelspace().query('TEXT[layer=="OFFICE-CALLOUTS"]')}
    scale = 1 if layout["plan"]["drawing_units"] == layout["units"] else None
    for panel in wide:
        (lx, ly), (rx, ry) = ((panel[end]["x"], panel[end]["y"]) for end in ("left", "right"))
        at = texts[panel["id"]].get_placement()[1]
        assert (rx - lx) * (at.y - ly) - (ry - ly) * (at.x - lx) > 0, f"{panel['id']}: the text stands on the deck"
    dims = sorted(e.get_measurement() for e in after.modelspace().query('DIMENSION[layer=="OFFICE-CALLOUTS"]'))
    if scale:
        assert all(abs(d - p) < 1e-6 for d, p in zip(dims, sorted(p["span"] for p in wide), strict=True)), dims
    lines = done.stdout.splitlines()
    assert len(lines) == len(layout["panels"]) + 2, done.stdout
    for panel, line in zip(layout["panels"], lines[1:]):
        assert line.split()[:3] == [panel["id"], panel["from"], panel["to"]], line
        assert line.split()[3] == f"{panel['span']:.3f}", line
    said = ", ".join(p["id"] for p in wide) or "none"
    assert lines[-1] == f"{len(wide)} of {len(layout['panels'])} panels are wider than 72 in: {said}", lines[-1]
    return len(wide)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("example", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--program", required=True)
    parser.add_argument("plans", type=Path, nargs="+")
    args = parser.parse_args()
    wide = [check(args, plan) for plan in args.plans]
    assert sum(wide) > 0 and 0 in wide, wide
    print(f"OK {sum(wide)} wide panels of {len(args.plans)} plans")


if __name__ == "__main__":
    main()
