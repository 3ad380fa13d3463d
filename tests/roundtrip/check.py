"""What happens when a designer edits our drawing, saves it with a CAD program, and runs plumbrail again.

    check.py PLUMBRAIL FOLDER [--writers ...] [--fixtures ...] [--edits ...]

Five fixtures are laid out. Each drawing with rails is edited by ezdxf as a person would edit it, saved by each writer of
save_by.py, and laid out again. Of each case is checked:

- Where the writer has dropped our marks, nothing is written until that is confirmed, and the status says so.
- Once confirmed: never two sets of rails, the edit obeyed or told, ids that stay, and the user's entities as the writer left
  them.

Writers that keep neither marks nor blocks get the layout.json of the run before, as it lies beside the plan in practice. One
line a case that fails, one in the end; status 1 when one fails.
"""

import argparse
import collections
import concurrent.futures
import json
import math
import pathlib
import shutil
import subprocess
import sys

import ezdxf
from ezdxf import recover

import save_by

HERE = pathlib.Path(__file__).resolve().parent
FIXTURES = ["lakeside", "metric", "stair-landing", "curved", "l-shape"]
EDITS = ["none", "moved", "erased", "copied", "untagged", "widened"]
WRITERS = save_by.WRITERS
OURS = ["SHEET", "LINE", "PANEL", "BALUSTER", "BLOCK", "BRACKET", "POST", "HOLE", "SCREW", "DIMS", "TEXT", "NOTE", "VIEW"]
OURS = {f"RAIL-{name}" for name in OURS}
# What a writer rounds off, in drawing units; much less than any edit.
NEAR = 0.05


# These drop what a plan needs, and the plan is refused: FreeCAD without "group layers" calls each thing's layer by the thing's
# own name, Inkscape writes pixels and no unit.
REFUSED = {"freecad": "layer-empty", "inkscape": "units-missing"}
# These write arcs of polylines as many short lines, so a curved deck is another one.
NO_ARCS = {"ogr2ogr", "ogr2ogr-blocks"}
# Without its text nobody knows a stair's steps: its rails are left out, and the layout is told to be incomplete.
NO_TEXTS = {"freecad-layers"}
MILLIMETRES = {"in": 25.4, "mm": 1.0}


def is_ours(layer):
    return layer.upper().replace("_", "-") in OURS


def run(plumbrail, plan, out, *options):
    command = [plumbrail, "layout", plan, "--out", out, "--formats", "rail,json", "--message-format", "json", *options]
    ended = subprocess.run([str(c) for c in command], capture_output=True, text=True, timeout=120)
    told = [json.loads(line) for line in ended.stderr.splitlines() if line.startswith("{")]
    return ended.returncode, [t for t in told if t.get("code")]


def marks(entity):
    if not entity.has_xdata("PLUMBRAIL"):
        return None
    return [tag.value for tag in entity.get_xdata("PLUMBRAIL") if tag.code == 1000]


def of(msp, kind, ident):
    found = [e for e in msp if (marks(e) or [])[:2] == [kind, ident]]
    assert found, (kind, ident)
    return found


def between(a, b, share):
    return a["x"] + (b["x"] - a["x"]) * share, a["y"] + (b["y"] - a["y"]) * share


class Case:
    """An edit of a fixture: what is done, and how it is seen that it was obeyed."""

    def __init__(self, layout, edit):
        self.edit = edit
        level = [p for p in layout["panels"] if p["kind"] == "level"]
        posts = {p["id"]: p for p in layout["posts"]}
        step = 200 if layout["plan"]["drawing_units"] == "mm" else 8
        lines = [p for p in layout["posts"] if p["kind"] == "line" and p["origin"] == "planned"]
        self.post = lines[len(lines) // 2] if lines else None
        self.panel = level[len(level) // 2]
        self.longest = max(level, key=lambda p: p["span"])
        if edit == "moved":
            # Towards the other end of a panel beside it.
            panel = next(p for p in level if self.post["id"] in (p["from"], p["to"]))
            far = panel["right"] if panel["from"] == self.post["id"] else panel["left"]
            dx, dy = far["x"] - self.post["x"], far["y"] - self.post["y"]
            self.shift = (dx * step / math.hypot(dx, dy), dy * step / math.hypot(dx, dy))
        self.copied = between(self.longest["left"], self.longest["right"], 0.5)
        self.posts = posts

    def apply(self, source, target):
        doc = ezdxf.readfile(source)
        msp = doc.modelspace()
        if self.edit == "moved":
            post = next(e for e in of(msp, "post", self.post["id"]) if e.dxftype() == "INSERT")
            post.translate(*self.shift, 0)
        elif self.edit == "erased":
            msp.delete_entity(next(e for e in of(msp, "post", self.post["id"]) if e.dxftype() == "INSERT"))
        elif self.edit == "copied":
            post = next(iter(self.posts.values()))
            original = next(e for e in of(msp, "post", post["id"]) if e.dxftype() == "INSERT")
            copy = original.copy()
            msp.add_entity(copy)
            copy.translate(self.copied[0] - post["x"], self.copied[1] - post["y"], 0)
        elif self.edit == "untagged":
            for kind in ["tag", "frame"]:
                for entity in of(msp, kind, self.panel["id"]):
                    msp.delete_entity(entity)
        elif self.edit == "widened":
            widen(doc)
        doc.saveas(target)

    def failures(self, before, after, told):
        """What is not as the edit asks."""
        codes = {t["code"] for t in told}
        lost = " ".join(t["message"] for t in told if t["code"] == "marks-lost")
        if "no post is left" in lost and self.edit in ("moved", "erased", "copied"):
            return
        if "no text of a tag" in lost and self.edit == "untagged":
            return
        # A program may have scaled the drawing to its own unit.
        scale = MILLIMETRES[before["plan"]["drawing_units"]] / MILLIMETRES[after["plan"]["drawing_units"]]
        posts = {p["id"]: p | {"x": p["x"] / scale, "y": p["y"] / scale} for p in after["posts"]}
        panels = {p["id"] for p in after["panels"]}
        at = lambda p: (p["x"], p["y"])
        still = lambda p: p["id"] in posts and math.dist(at(p), at(posts[p["id"]])) < NEAR
        untouched = [p for p in before["posts"] if not self.post or p["id"] != self.post["id"] or self.edit != "moved"]
        if self.edit == "none":
            yield from (f"{p['id']} is not where it was" for p in untouched if not still(p))
            if {p["id"] for p in before["panels"]} != panels or len(posts) != len(before["posts"]):
                yield "posts or panels are others"
        elif self.edit == "moved":
            there = (self.post["x"] + self.shift[0], self.post["y"] + self.shift[1])
            now = posts.get(self.post["id"])
            if not now or math.dist(at(now), there) > NEAR or now["origin"] != "kept":
                yield f"{self.post['id']} is not where it was moved to"
        elif self.edit == "erased":
            # It stays away, or it is told and comes back under its id.
            if self.post["id"] in posts and "edit-not-obeyed" not in codes:
                yield f"{self.post['id']} is back, and nothing is told"
        elif self.edit == "copied":
            if not any(math.dist(at(p), self.copied) < NEAR and p["origin"] == "kept" for p in posts.values()):
                yield "the added post is not there"
            yield from (f"{p['id']} is gone" for p in before["posts"] if p["id"] not in posts)
        elif self.edit == "untagged":
            if self.panel["id"] in panels or self.panel["id"] not in {o["id"] for o in after.get("open", [])}:
                yield f"{self.panel['id']} is not open"
        elif self.edit == "widened":
            if len(posts) < len(before["posts"]):
                yield "posts are missing"
            corners = [p for p in before["posts"] if p["kind"] != "line"]
            lost = [p["id"] for p in corners if p["id"] not in posts]
            if lost:
                yield f"ids {lost} are gone"


def widen(doc):
    """The side of the deck that lies farthest to the right goes outwards, by less than a bay."""
    step = 500 if doc.header["$INSUNITS"] == 4 else 20
    decks = [e for e in doc.modelspace().query("LWPOLYLINE") if "DECK" in e.dxf.layer.upper() and "EDGE" in e.dxf.layer.upper()]
    right = max(p[0] for deck in decks for p in deck.get_points())
    for deck in decks:
        deck.set_points([(p[0] + step, *p[1:]) if abs(p[0] - right) < 1e-6 else p for p in deck.get_points()])


def entities(doc, with_ours):
    found = collections.Counter()
    for entity in doc.modelspace():
        # A SEQEND without its INSERT is a slip of a writer's, and no thing that anybody drew.
        if is_ours(entity.dxf.layer) != with_ours or entity.dxftype() == "SEQEND":
            continue
        values = {}
        for name, value in entity.dxfattribs().items():
            if name in ("handle", "owner", "paperspace", "reactors"):
                continue
            values[name] = str(value)
        extra = [tuple(p) for p in entity.get_points()] if entity.dxftype() == "LWPOLYLINE" else getattr(entity, "text", "")
        found[(entity.dxftype(), entity.dxf.layer, str(sorted(values.items())), str(extra))] += 1
    return found


def whole(saved, written, after):
    """One set of rails, and all else as it was."""
    before, now = recover.readfile(saved)[0], recover.readfile(written)[0]
    if lost := entities(before, False) - entities(now, False):
        yield f"{sum(lost.values())} entities of the user's changed, the first {next(iter(lost))[:2]}"
    if more := entities(now, False) - entities(before, False):
        yield f"{sum(more.values())} entities came to the user's, the first {next(iter(more))[:2]}"
    rails = [e for e in now.modelspace() if is_ours(e.dxf.layer)]
    if left := [e for e in rails if not marks(e)]:
        yield f"{len(left)} old entities are left, the first {left[0].dxftype()} on {left[0].dxf.layer}"
    posts = [e for e in rails if e.dxftype() == "INSERT" and e.dxf.layer == "RAIL-POST"]
    tags = [marks(e)[1] for e in rails if (marks(e) or [""])[0] == "tag"]
    if len(posts) != len(after["posts"]) or len(tags) != len(set(tags)):
        yield f"{len(posts)} posts are drawn of {len(after['posts'])}, with {len(tags)} tags"
    own = {layer.dxf.name.upper().replace("_", "-") for layer in now.layers} & OURS
    if len(own) != sum(is_ours(layer.dxf.name) for layer in now.layers):
        yield "a layer of ours is there twice"


def examine(plumbrail, folder, fixture, edit, writer):
    place = folder / fixture
    saved = place / f"{edit}.{writer}.dxf"
    before = json.loads((place / "out" / "layout.json").read_text())
    case = Case(before, edit)
    out = place / f"{edit}.{writer}"
    options = []
    status, told = run(plumbrail, saved, out)
    codes = {t["code"] for t in told}
    if code := REFUSED.get(writer):
        return [] if status == 3 and code in codes and not out.exists() else [f"status {status}: {sorted(codes)}"]
    if "units-doubtful" in codes and status == 3:
        options += ["--units", before["plan"]["drawing_units"]]
        status, told = run(plumbrail, saved, out, *options)
        codes = {t["code"] for t in told}
    if "marks-lost" in codes:
        if status != 3 or out.exists():
            return [f"marks are lost, and the status is {status}"]
        options.append("--replace-rails")
        keeps = any("kept as texts" in t["message"] for t in told)
        if not keeps:
            options += ["--before", place / "out" / "layout.json"]
        status, told = run(plumbrail, saved, out, *options)
    elif not writer.startswith("ezdxf"):
        return [f"nothing says that marks are lost (status {status}: {sorted(codes)})"]
    if status not in (0, 1):
        return [f"status {status}: {told[0]['message'] if told else 'nothing told'}"]
    after = json.loads((out / "layout.json").read_text())
    if (status == 0) != (after["complete"] and after["limits_hold"]):
        return [f"status {status} beside complete {after['complete']}, limits {after['limits_hold']}"]
    wrong = list(whole(saved, out / f"{saved.stem}.rail.dxf", after))
    if writer in NO_TEXTS and before.get("flights"):
        wrong.extend([] if status == 1 and not after["complete"] else [f"a stair is not known, and the status is {status}"])
    elif not (fixture == "curved" and writer in NO_ARCS):
        wrong.extend(case.failures(before, after, told))
    return wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("plumbrail", type=pathlib.Path)
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--writers", nargs="*", default=WRITERS)
    parser.add_argument("--fixtures", nargs="*", default=FIXTURES)
    parser.add_argument("--edits", nargs="*", default=EDITS)
    args = parser.parse_args()
    plumbrail, folder = args.plumbrail.resolve(), args.folder.resolve()
    # That a refused run writes nothing is seen by a folder that is not there.
    shutil.rmtree(folder, ignore_errors=True)
    for fixture in args.fixtures:
        place = folder / fixture
        place.mkdir(parents=True, exist_ok=True)
        status, _ = run(plumbrail, HERE.parents[1] / "fixtures" / fixture / "plan.dxf", place / "out")
        assert status == 0, (fixture, status)
        layout = json.loads((place / "out" / "layout.json").read_text())
        for edit in args.edits:
            Case(layout, edit).apply(place / "out" / "plan.rail.dxf", place / f"{edit}.dxf")
    cases = [(fixture, edit) for fixture in args.fixtures for edit in args.edits]

    def saved(writer):
        pairs = [(folder / f / f"{e}.dxf", folder / f / f"{e}.{writer}.dxf") for f, e in cases]
        save_by.save(writer, pairs)

    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        list(pool.map(saved, args.writers))
        all_cases = [(f, e, w) for w in args.writers for f, e in cases]
        results = list(pool.map(lambda c: examine(plumbrail, folder, *c), all_cases))
    failed = [(case, wrong) for case, wrong in zip(all_cases, results) if wrong]
    for case, wrong in failed:
        print(f"FAILED {' '.join(case)}: {'; '.join(wrong)}")
    print(f"{len(all_cases)} cases with {len(args.writers)} writers, {len(failed)} failed")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
