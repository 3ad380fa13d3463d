"""Random plans in 16 drawing styles with the truth of their generator: no exit 0 with a leak, no refusal by fear.

    python drawing_styles.py --make DIR [--count 500] [--only STYLE]
    python drawing_styles.py --check DIR --program PLUMBRAIL [--only STYLE]

--make writes DIR/STYLE-NN.dxf, job files, and truth.json: in inches in the plan's own frame the outlines of the decks with
their holes, the walls, the mouths (openings, doors, stairs), the flights, and whether the plan is *sound*: true, what a
careful designer takes for complete and clear; false, where something is missing or cannot be read; null, where one may
think either way.

--check lays every plan out and judges by shapely each that ends with 0. It looks with a ball of 4 in, of which only the
centre is moved: barriers (panels from face to face, squares of posts, true walls, true mouths) are grown by 2 in, and
taken from the deck with 2 ft around it. A part of what is left that holds both deck and the outside is a leak. That needs
no word on which rail guards which edge, and cannot be deceived by a rail that ends short of its post or in the air. Then
- no panel or post of ours may stand outside of the deck, but for those along a flight, nor in a mouth (1 in is borne);
- no panel may stand further from the outline than inset and sagitta allow, as a rail through the deck does;
- each side of a flight has a rail or a wall over its length.
A plan that is not sound may end with 0 where all this holds, as a program may read more than we know, unless it is marked
`must_not_pass`: then the drawing leaves open what has to be built. Of the sound ones at least 80 % must end with 0.
Any other end than with 0, 1 or 3 within 20 s is a failure.
"""

import argparse
import concurrent.futures
import json
import math
import os
import pathlib
import random
import subprocess
import sys

import ezdxf
from ezdxf.math import BSpline, global_bspline_interpolation
from shapely import LineString, Point, Polygon, affinity, box, prepare, union_all

from drawing_styles_plans import STYLES, along, beside, ringed

BALL = 4.0
INSET, SAGITTA = 4.0, 3.0  # of the built-in system composite-36 and of jobs without a word of their own
DEEP = 8.0  # what lies further inside the deck than this is surely inside of the rail
LEAST_AREA = 20.0  # square inches; smaller parts are what rounding leaves
BORNE = 1.0
SHARE = 0.8

UNITS = {"in": (1, 1.0), "ft": (2, 12.0), "mm": (4, 1 / 25.4), "cm": (5, 1 / 2.54), "m": (6, 1 / 0.0254)}
EDGES = ["DECK-EDGE", "A-DECK-EDGE", "Deck Edge", "DECK_EDGE-UPPER", "EDGE OF DECK"]
WALLS = ["HOUSE-WALL", "A-WALL", "WALL", "HOUSE"]
OPENINGS = ["DECK-OPENING", "GATE", "A-GATE", "OPENING"]
STAIRS = ["A-FLOR-STRS", "STAIR", "DECK-STAIRS"]
POSTS = ["DECK-POST", "POST", "S-POST"]

ezdxf.options.write_fixed_meta_data_for_testing = True


# ---- drawing

class Sheet:
    """A plan under way, and its truth."""

    def __init__(self, style, number, unit=None):
        self.rng = random.Random(f"{style}-{number}")
        self.number = number
        self.unit = unit or self.rng.choice(["in", "in", "ft", "mm", "m"])
        code, self.inches = UNITS[self.unit]
        self.doc = ezdxf.new("R2000", units=code)
        self.doc.header["$MEASUREMENT"] = int(self.unit in ("mm", "cm", "m"))
        self.space = self.doc.modelspace()
        self.turn = math.radians(self.rng.choice([0, 0, 90, 180, 270, self.rng.uniform(0, 360)]))
        self.by = self.rng.uniform(-2000, 2000), self.rng.uniform(-2000, 2000)
        self.edge, self.wall = self.rng.choice(EDGES), self.rng.choice(WALLS)
        self.opening, self.stair = self.rng.choice(OPENINGS), self.rng.choice(STAIRS)
        self.post = self.rng.choice(POSTS)
        self.sound, self.must_not_pass, self.what, self.options, self.job = True, False, "", [], None
        self.decks, self.walls, self.mouths, self.flights = [], [], [], []

    # -- the frame of the plan

    def turned(self, point):
        """A point in inches in the plan's frame."""
        (x, y), c, s = point, math.cos(self.turn), math.sin(self.turn)
        return x * c - y * s + self.by[0], x * s + y * c + self.by[1]

    def at(self, point):
        """A point in drawing units."""
        return tuple(v / self.inches for v in self.turned(point))

    def on(self, layer):
        if layer not in self.doc.layers:
            self.doc.layers.add(layer)
        return {"layer": layer}

    # -- drawing

    def line(self, layer, a, b, **more):
        return self.space.add_line(self.at(a), self.at(b), self.on(layer) | more)

    def path(self, layer, points, closed=False, bulges=None):
        rows = [(*self.at(p), 0, 0, b) for p, b in zip(points, bulges or [0] * len(points))]
        return self.space.add_lwpolyline(rows, close=closed, dxfattribs=self.on(layer))

    def box(self, layer, x, y, u, v):
        return self.path(layer, [(x, y), (u, y), (u, v), (x, v)], True)

    def spline(self, layer, fit):
        """A spline through points; gives it as many short chords."""
        curve = global_bspline_interpolation(fit, degree=3)
        placed = BSpline([self.at((p.x, p.y)) for p in curve.control_points], curve.order, knots=curve.knots())
        self.space.add_spline(dxfattribs=self.on(layer)).apply_construction_tool(placed)
        return [(p.x, p.y) for p in curve.flattening(0.01, segments=16)]

    def circle(self, layer, centre, radius):
        return self.space.add_circle(self.at(centre), radius / self.inches, self.on(layer))

    def arc(self, layer, centre, radius, start, end):
        turn = math.degrees(self.turn)
        return self.space.add_arc(self.at(centre), radius / self.inches, start + turn, end + turn,
                                  dxfattribs=self.on(layer))

    def text(self, layer, at, content, size=4):
        made = self.space.add_text(content, height=size / self.inches, dxfattribs=self.on(layer))
        return made.set_placement(self.at(at))

    def hatch(self, layer, points):
        hatch = self.space.add_hatch(color=8, dxfattribs=self.on(layer))
        hatch.paths.add_polyline_path([self.at(p) for p in points], is_closed=True)
        return hatch

    def mline(self, layer, points):
        return self.space.add_mline([self.at(p) for p in points], dxfattribs=self.on(layer))

    def insert(self, name, layer, at, scale=1.0, turn=0.0, mirror=False):
        """Places a block that is drawn in inches."""
        size = scale / self.inches
        return self.space.add_blockref(name, self.at(at), self.on(layer) | {
            "xscale": -size if mirror else size, "yscale": size, "zscale": size,
            "rotation": turn + math.degrees(self.turn)})

    def loose(self, layer, edges, shuffled=True):
        """Edges as single lines, in any order and direction."""
        edges = list(edges)
        if shuffled:
            self.rng.shuffle(edges)
        for a, b in edges:
            self.line(layer, *((a, b) if self.rng.random() < 0.5 else (b, a)))

    # -- truth

    def unsound(self, what, must_not_pass=False):
        self.sound, self.must_not_pass, self.what = False, must_not_pass, what

    def debatable(self, what):
        self.sound, self.what = None, what

    def mouth(self, a, b):
        self.mouths.append([a, b])

    def truth(self):
        def rows(points):
            return [[round(v, 6) for v in self.turned(p)] for p in points]
        return {
            "sound": self.sound, "must_not_pass": self.must_not_pass, "what": self.what, "unit": self.unit,
            "inches": self.inches, "options": self.options, "job": self.job,
            "decks": [{"outline": rows(d[0]), "holes": [rows(h) for h in d[1:]]} for d in self.decks],
            "walls": [rows(w) for w in self.walls], "mouths": [rows(m) for m in self.mouths],
            "flights": [rows(f) for f in self.flights],
        }

    # -- a house with a deck

    def outline(self, shapes="rect rect L U T octagon", least=96):
        """A deck, counter-clockwise from its top left corner; the closing edge, at the top, is the one on the house."""
        r, shape = self.rng, self.rng.choice(shapes.split())
        w = r.uniform(max(least, {"rect": 96, "U": 240, "T": 240}.get(shape, 168)), 480)
        h = r.uniform(max(least, 96 if shape == "rect" else 168), 360)
        a, c, n = r.uniform(0.3, 0.4) * w, r.uniform(0.6, 0.7) * w, r.uniform(0.35, 0.5) * h
        k = r.uniform(36, 60)
        bottom = {
            "rect": [(0, 0), (w, 0)],
            "L": [(0, 0), (c, 0), (c, n), (w, n)],
            "U": [(0, 0), (a, 0), (a, n), (c, n), (c, 0), (w, 0)],
            "T": [(0, n), (a, n), (a, 0), (c, 0), (c, n), (w, n)],
            "octagon": [(0, k), (k, 0), (w - k, 0), (w, k)],
        }[shape]
        return [(0.0, h), *bottom, (w, h)]

    def house(self, points, kind=None, second=False):
        """The wall behind a deck, and with `second` on its left as well; gives how it was drawn."""
        kind = kind or self.rng.choice(["line", "double", "house"])
        (x, h), (w, _), foot = points[0], points[-1], points[1][1] - 48
        left, right = self.rng.uniform(24, 90), self.rng.uniform(24, 90)
        thick = self.rng.uniform(4, 6)
        face = [(x, foot), (x, h), (w + right, h)] if second else [(x - left, h), (w + right, h)]
        back = [(x - thick, foot), (x - thick, h + thick), (w + right, h + thick)] if second else \
            [(x - left, h + thick), (w + right, h + thick)]
        if kind == "house":
            far = [(w + right, h + 240), (x - 200, h + 240), (x - 200, foot)] if second else \
                [(w + right, h + 240), (x - left, h + 240)]
            self.path(self.wall, face + far, True)
        else:
            for row in [face, back][:1 + (kind == "double")]:
                self.loose(self.wall, zip(row, row[1:]))
        self.walls.append(face)
        return kind

    def plain(self, shapes="rect rect L U T octagon", draw=True, wall=True, least=96):
        """A sound deck on a house. Gives its outline and its free edges."""
        points = self.outline(shapes, least)
        second = wall and points[1][0] == 0 and self.rng.random() < 0.3
        if wall:
            self.house(points, second=second)
        self.decks.append([points])
        edges = ringed(points)
        free = edges[second:-1] if wall else edges
        if draw:
            how = self.rng.choice(["closed", "loose", "open"])
            if how == "closed":
                self.path(self.edge, points, True)
            elif how == "loose":
                self.loose(self.edge, edges)
            elif wall:
                chain = points[second:]
                self.path(self.edge, chain[::self.rng.choice([1, -1])])
            else:
                self.path(self.edge, [*points, points[0]])
        return points, free

    # -- things on an edge

    def long_edge(self, edges, least):
        """An edge with room for something of that length; the longest where none has it."""
        fit = [e for e in edges if math.dist(*e) >= least]
        return self.rng.choice(fit) if fit else max(edges, key=lambda e: math.dist(*e))

    def on_wall(self, edge):
        return any(LineString(w).buffer(4).contains(LineString(edge)) for w in self.walls)

    def gate(self, a, b, t, wide, inward, block):
        """A gate as a line in the edge, a leaf and the arc of its swing."""
        turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
        side = 1 if inward else -1
        at = along(a, b, t)
        if block:
            name = f"GATE-{len(self.doc.blocks)}"
            made = self.doc.blocks.new(name)
            made.add_line((0, 0), (wide, 0), {"layer": "0"})
            made.add_line((0, 0), (0, side * wide), {"layer": "0"})
            made.add_arc((0, 0), wide, *((0, 90) if inward else (270, 360)), dxfattribs={"layer": "0"})
            self.insert(name, self.opening, at, turn=turn)
        else:
            self.line(self.opening, at, along(a, b, t + wide))
            self.line(self.opening, at, beside(a, b, t, side * wide))
            self.arc(self.opening, at, wide, *((turn, turn + 90) if inward else (turn - 90, turn)))

    def flight(self, edge, wide, t, risers, tread, drawn="treads"):
        """Draws a flight down from an edge, its top left at t, and gives where a text fits beside it."""
        a, b = edge
        deep = (risers - 1) * tread
        self.mouth(along(a, b, t), along(a, b, t + wide))
        self.flights.append([along(a, b, t), along(a, b, t + wide), beside(a, b, t + wide, -deep), beside(a, b, t, -deep)])
        if drawn == "outline":
            self.path(self.stair, self.flights[-1], True)
        elif drawn == "hatch":
            self.hatch(self.stair, self.flights[-1])
        elif drawn == "flared":
            foot = [beside(a, b, t + wide - 8, -deep), beside(a, b, t + 8, -deep)]
            self.path(self.stair, [*self.flights[-1][:2], *foot], True)
        else:
            if drawn == "second":
                self.path(self.stair, self.flights[-1], True)
            for k in range(int(drawn == "second"), risers):
                off = -k * tread - (k // 3 * 5 if drawn == "unequal" else 0)
                self.line(self.stair, beside(a, b, t, off), beside(a, b, t + wide, off))
        return beside(a, b, t + 8, -deep / 2)

    def arrow_down(self, flight):
        """An arrow from the top of a flight to its foot; gives its tail."""
        (a, b, c, d) = flight
        top, foot = along(a, b, math.dist(a, b) / 2), along(c, d, math.dist(c, d) / 2)
        tail, head = along(top, foot, 4), along(foot, top, 6)
        self.line(self.stair, tail, head)
        for off in (3, -3):
            self.line(self.stair, head, beside(head, tail, 6, off))
        return tail

    def drawn_post(self, centre, kind, turn=0):
        if kind == "square":
            square = affinity.rotate(Point(centre).buffer(2.25, cap_style="square"), turn, origin=centre)
            self.path(self.post, list(square.exterior.coords)[:-1], True)
        elif kind == "circle":
            self.circle(self.post, centre, 2.25)
        elif kind == "point":
            self.space.add_point(self.at(centre), self.on(self.post))
        else:
            if "POST" not in self.doc.blocks:
                square = [(-2.25, -2.25), (2.25, -2.25), (2.25, 2.25), (-2.25, 2.25)]
                self.doc.blocks.new("POST").add_lwpolyline(square, close=True, dxfattribs={"layer": "0"})
            self.insert("POST", self.post, centre, turn=turn)



# ---- making plans

def make(folder, count, only):
    folder.mkdir(parents=True, exist_ok=True)
    truths, total = {}, len(STYLES)
    for k, (name, style) in enumerate(STYLES.items()):
        if only not in (None, name):
            continue
        for number in range(count // total + (k < count % total)):
            # Each unit in turn where the unit is the point.
            sheet = Sheet(name, number, list(UNITS)[number % len(UNITS)] if name == "units" else None)
            style(sheet)
            plan = f"{name}-{number:02}"
            sheet.doc.saveas(folder / f"{plan}.dxf")
            if sheet.job:
                (folder / f"{plan}.toml").write_text(sheet.job, encoding="utf-8")
            truths[plan] = sheet.truth()
    rows = ",\n".join(f"{json.dumps(plan)}: {json.dumps(truth)}" for plan, truth in truths.items())
    (folder / "truth.json").write_text("{\n" + rows + "\n}\n", encoding="utf-8")
    sound = sum(t["sound"] is True for t in truths.values())
    print(f"OK {len(truths)} plans in {folder}, {sound} of them sound")


# ---- judging layouts

class Built:
    """What a layout builds, in inches."""

    def __init__(self, layout, inches):
        size = {"in": 1.0, "mm": 1 / 25.4}[layout["units"]]

        def at(p):
            return p["x"] * inches, p["y"] * inches
        self.panels = [(p["id"], p["kind"] == "raked", LineString([at(p["left"]), at(p["right"])]))
                       for p in layout["panels"]]
        self.posts = []
        for p in layout["posts"]:
            (x, y), half = at(p), p["side"] * size / 2
            square = affinity.rotate(box(x - half, y - half, x + half, y + half), p["rotation"], origin=(x, y))
            self.posts.append((p["id"], p["kind"] == "stair", p["origin"] == "drawn", square))

    def all(self):
        return [p[-1] for p in self.panels + self.posts]


def where(shape):
    p = shape.representative_point()
    return f"at {p.x:.1f}, {p.y:.1f} in"


def leaks(deck, ours, fixed):
    """Places where the ball gets out."""
    grown = union_all([b.buffer(BALL / 2) for b in ours + fixed])
    left = deck.buffer(24).difference(grown)
    inside, outside = deck.buffer(-DEEP), deck.buffer(BALL + BORNE)
    # Where it passes the line on which the rails should stand, for the message alone.
    line = deck.buffer(-INSET, join_style="mitre").boundary
    open_line = line.difference(grown).difference(union_all([f.buffer(INSET + BALL) for f in fixed]))
    out = []
    for part in getattr(left, "geoms", [left]):
        if part.intersection(inside).area > LEAST_AREA and part.difference(outside).area > LEAST_AREA:
            ways = open_line.intersection(part)
            way = max(getattr(ways, "geoms", [ways]), key=lambda g: g.length)
            out.append(f"leak {where(part if way.is_empty else way)}, {way.length + BALL:.1f} in wide")
    return out


def judged(truth, layout):
    """What is wrong with a layout that is said to be complete."""
    built = Built(layout, truth["inches"])
    deck = union_all([Polygon(d["outline"], d["holes"]).buffer(0) for d in truth["decks"]])
    outline, mouths = deck.boundary, [LineString(m) for m in truth["mouths"]]
    walls = [LineString(w) for w in truth["walls"]]
    wrong = leaks(deck, built.all(), mouths + walls)
    flights = [Polygon(f) for f in truth["flights"]]
    stairs = union_all([f.buffer(8) for f in flights])
    around = deck.buffer(BORNE)
    prepare(around)
    free = [LineString([m.interpolate(BORNE), m.interpolate(m.length - BORNE)]) for m in mouths]
    free = union_all([f.buffer(INSET + 3, cap_style="flat") for f in free])
    for name, on_stair, *drawn, shape in built.panels + built.posts:
        if drawn == [True]:
            if shape.intersection(free).area > BORNE:
                wrong.append(f"{name} was drawn in a mouth, {where(shape)}")
            continue
        if not (stairs if on_stair else around).covers(shape) and not (on_stair and stairs.union(around).covers(shape)):
            wrong.append(f"{name} stands outside, {where(shape)}")
        if shape.buffer(0.01).intersection(free).area > 0.1 and not on_stair:
            wrong.append(f"{name} stands in a mouth, {where(shape)}")
        ends = shape if shape.geom_type == "LineString" else shape.centroid
        if not on_stair and not ends.within(outline.buffer(INSET + SAGITTA + BORNE)):
            wrong.append(f"{name} stands in the middle, {where(shape)}")
    rails = union_all([p[-1] for p in built.panels if p[1]] + [p[-1] for p in built.posts]).buffer(INSET + 2)
    for flight in truth["flights"]:
        for side in [LineString([flight[0], flight[3]]), LineString([flight[1], flight[2]])]:
            bare = side.difference(rails)
            # Beside a wall that ends higher up, the rest is too low to need a guard.
            if bare.length > 2 * BALL and all(wall.distance(side) > BALL for wall in walls):
                wrong.append(f"side of a flight without a rail, {where(bare)}")
    return wrong


def check_one(folder, program, plan, truth):
    """Exit status, what is wrong, and the first thing that the program said."""
    out = folder / "out" / plan
    command = [program, "layout", folder / f"{plan}.dxf", "--out", out, "--formats", "json", *truth["options"]]
    if truth["job"]:
        command += ["--job", folder / f"{plan}.toml"]
    try:
        ended = subprocess.run(command, capture_output=True, text=True, timeout=600, check=False)
    except subprocess.TimeoutExpired:
        return None, ["no end within ten minutes"], ""
    told = [line.split(": ", 1)[-1] for line in ended.stderr.splitlines() if "error" in line or "warning" in line]
    said = (told or ended.stderr.splitlines() or [""])[0]
    if ended.returncode not in (0, 1, 3):
        return ended.returncode, [f"exit status {ended.returncode}: {said}"], said
    if ended.returncode != 0:
        return ended.returncode, [], said
    try:
        wrong = judged(truth, json.loads((out / "layout.json").read_text(encoding="utf-8")))
    except (KeyError, OSError, ValueError) as error:
        return 0, [f"{type(error).__name__}: {error}"], said
    if truth["must_not_pass"]:
        wrong.append("ends with 0")
    return 0, wrong, said


def check(folder, program, only):
    truths = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    truths = {plan: truth for plan, truth in truths.items() if only in (None, plan.rsplit("-", 1)[0])}
    if not truths:
        sys.exit(f"FAILED no plans in {folder}")
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        results = dict(zip(truths, pool.map(lambda plan: check_one(folder, program, plan, truths[plan]), truths)))
    wrong, shares = 0, {}
    for plan, (status, found, said) in results.items():
        truth = truths[plan]
        kind = {True: "sound", False: "not sound", None: "either"}[truth["sound"]] + f" {truth['what']}".rstrip()
        if found:
            wrong += 1
            print(f"{plan} ({kind}): {'; '.join(found)}", file=sys.stderr)
        if truth["sound"]:
            share = shares.setdefault(plan.rsplit("-", 1)[0], [0, 0])
            share[0] += status == 0
            share[1] += 1
            if status != 0:
                print(f"{plan} is refused with {status}: {said}", file=sys.stderr)
    good, of = (sum(share[i] for share in shares.values()) for i in (0, 1))
    told = ", ".join(f"{style} {share[0]}/{share[1]}" for style, share in shares.items())
    print(f"of the sound plans end with 0: {told}", file=sys.stderr)
    if wrong or good < SHARE * of:
        sys.exit(f"FAILED {wrong} of {len(results)} plans are wrong, {good} of {of} sound ones end with 0")
    zeros = sum(status == 0 for status, *_ in results.values())
    print(f"OK {len(results)} plans, {zeros} with exit status 0 and none of them leaks, {good} of {of} sound ones: {told}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    task = parser.add_mutually_exclusive_group(required=True)
    task.add_argument("--make", type=pathlib.Path, metavar="DIR")
    task.add_argument("--check", type=pathlib.Path, metavar="DIR")
    parser.add_argument("--count", type=int, default=500, help="how many plans to make, over all styles")
    parser.add_argument("--only", choices=STYLES, metavar="STYLE")
    parser.add_argument("--program", help="the plumbrail program")
    args = parser.parse_args()
    if args.make:
        make(args.make, args.count, args.only)
    elif args.program:
        check(args.check, args.program, args.only)
    else:
        parser.error("--check needs --program")


if __name__ == "__main__":
    # ezdxf writes the CLASSES section in the order of a set: only a fixed hash seed gives the same bytes twice.
    if os.environ.get("PYTHONHASHSEED") != "0":
        os.execve(sys.executable, [sys.executable, *sys.argv], os.environ | {"PYTHONHASHSEED": "0"})
    main()
