"""Random deck plans in 16 drawing styles, each with what its generator knows to be true.

Everything is drawn in inches with the house at the top, then turned, moved and scaled into the plan's unit. The truth is
kept in inches in the plan's own frame. For `sound` see drawing_styles.py.
"""

import math
import random

import ezdxf
from ezdxf.math import BSpline
from shapely import LineString, Polygon

UNITS = {"in": (1, 1.0), "ft": (2, 12.0), "mm": (4, 1 / 25.4), "cm": (5, 1 / 2.54), "m": (6, 1 / 0.0254)}
EDGES = ["DECK-EDGE", "A-DECK-EDGE", "Deck Edge", "DECK_EDGE-UPPER", "EDGE OF DECK"]
WALLS = ["HOUSE-WALL", "A-WALL", "WALL", "HOUSE"]
OPENINGS = ["DECK-OPENING", "GATE", "A-GATE", "OPENING"]
STAIRS = ["A-FLOR-STRS", "STAIR", "DECK-STAIRS"]
POSTS = ["DECK-POST", "POST", "S-POST"]


def along(a, b, t):
    """The point t inches from a towards b."""
    part = t / math.dist(a, b)
    return a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part


def beside(a, b, t, off):
    """The point t inches along a-b and off inches to its left, where the deck lies."""
    (x, y), length = along(a, b, t), math.dist(a, b)
    return x - (b[1] - a[1]) / length * off, y + (b[0] - a[0]) / length * off


def arc(centre, radius, start, end, step=1.0):
    """Points on an arc, counter-clockwise from start to end in degrees."""
    count = max(8, math.ceil(abs(end - start) / step))
    turns = [math.radians(start + (end - start) * k / count) for k in range(count + 1)]
    return [(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns]


def ringed(points):
    """Edges of a closed outline."""
    return list(zip(points, points[1:] + points[:1]))


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

    def outline(self, shapes="rect rect L U T octagon", least=120):
        """A deck, counter-clockwise from its top left corner; the closing edge, at the top, is the one on the house."""
        r, shape = self.rng, self.rng.choice(shapes.split())
        w, h = r.uniform(max(least, 240 if shape in "UT" else 168), 480), r.uniform(max(least, 168), 360)
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

    def plain(self, shapes="rect rect L U T octagon", draw=True, wall=True, least=120):
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


# ---- the styles

def long_edge(s, free, least):
    """A free edge with room for something of that length; the longest where none has it."""
    fit = [e for e in free if math.dist(*e) >= least]
    return s.rng.choice(fit) if fit else max(free, key=lambda e: math.dist(*e))


def gaps(s):
    """Loose lines whose ends leave gaps: a sixteenth is a corner, inches are a missing part."""
    points, free = s.plain(draw=False)
    kind = s.number % 5
    edges, hurt = [], s.rng.randrange(len(free) - 1)
    middle = long_edge(s, free, 96)
    for i, (a, b) in enumerate(free):
        short = [s.rng.uniform(0, 0.03) for _ in "ab"]
        if kind == 4 and i in (hurt, hurt + 1):
            short[int(i == hurt)] = s.rng.uniform(3, 8)
        a, b = along(a, b, short[0]), along(b, a, short[1])
        if (a, b) and free[i] == middle and kind == 3:
            t, wide = s.rng.uniform(0.3, 0.6) * math.dist(a, b), s.rng.uniform(4.5, 12)
            edges += [(a, along(a, b, t)), (along(a, b, t + wide), b)]
        elif free[i] == middle and kind in (1, 2):
            t = s.rng.uniform(0.3, 0.6) * math.dist(a, b)
            edges += [(a, along(a, b, t)), (along(a, b, t + s.rng.uniform(0.01, 0.06)), b)]
        else:
            edges.append((a, b))
    s.loose(s.edge, edges)
    if kind == 3:
        s.unsound("gap in the middle of an edge", True)
    elif kind == 4:
        s.unsound("gap at a corner", True)


def overshoots(s):
    """Loose lines that run past their corners: by a thirty-second nobody minds, by inches anything may be meant."""
    _, free = s.plain(draw=False)
    low, high = (1.2, 6) if s.number % 5 == 4 else (0.0, 1 / 32)
    s.loose(s.edge, [(along(a, b, -s.rng.uniform(low, high)), along(b, a, -s.rng.uniform(low, high))) for a, b in free])
    if s.number % 5 == 4:
        s.debatable("lines far past their corners")


def t_joints(s):
    """Beams, joists or a change of boards that end on the edge."""
    points, _ = s.plain()
    bad = s.number % 4 == 3
    layer = s.edge if bad else s.rng.choice(["S-BEAM", "S-JOIST", "A-FLOR-PATT", "BOARDS"])
    xs = [x for x, _ in points]
    low, high = min(xs), max(xs)
    for k in range(1 if bad else s.rng.randint(1, 12)):
        x = s.rng.uniform(low + 20, high - 20)
        cut = LineString([(x, -999), (x, 999)]).intersection(Polygon(points))
        parts = [cut] if cut.geom_type == "LineString" else list(cut.geoms)
        s.line(layer, *s.rng.choice(parts).coords)
    if bad:
        s.debatable("an inner line on the edge layer")


def doubles(s):
    """Edges drawn twice: as outline and lines, in reverse, or partly over one another."""
    points, free = s.plain(draw=False)
    kind = s.number % 3
    if kind == 0:
        s.path(s.edge, points, True)
        s.loose(s.edge, s.rng.sample(free, s.rng.randint(1, len(free))))
    elif kind == 1:
        chain = [free[0][0], *(b for _, b in free)]
        s.path(s.edge, chain)
        s.path(s.edge, chain[::-1])
    else:
        for a, b in free:
            t, u = s.rng.uniform(0.5, 0.9) * math.dist(a, b), s.rng.uniform(0.1, 0.45) * math.dist(a, b)
            s.loose(s.edge, [(a, along(a, b, t)), (along(a, b, u), b)])
        if s.rng.random() < 0.5:
            a, b = s.rng.choice(free)
            s.line(s.edge, b, along(a, b, math.dist(a, b) / 3))


def borders(s):
    """A closed outline with a border line inside it, or a field of boards that shares part of it."""
    points, _ = s.plain(draw=False, shapes="rect L octagon")
    s.path(s.edge, points, True)
    kind = s.number % 4
    layer = s.edge if kind in (0, 1) else s.rng.choice(["A-FLOR-PATT", "BORDER", "DECKING"])
    if kind in (0, 2):
        inner = Polygon(points).buffer(-s.rng.uniform(0.75, 6), join_style="mitre").exterior.coords
        s.path(layer, list(inner)[:-1], True)
    else:
        (a, b), (c, _), d = points[0], points[-1], s.rng.uniform(60, 100)
        x = s.rng.uniform(0.3, 0.7) * c
        s.box(layer, *((a, b - d, x, b) if s.rng.random() < 0.5 else (x / 2, b - d, x, b)))
    if layer == s.edge:
        s.debatable("a border or field on the edge layer")


def mixed_kinds(s):
    """Edges of every kind that a deck may be drawn with; one kind in five is such as nobody reads."""
    w, h = s.rng.uniform(200, 420), s.rng.uniform(150, 300)
    r = s.rng.uniform(48, 72)
    k = s.number % 5
    s.house([(0, h), (0, 0), (w, h)])
    right = [(w, 0), (w, h)]
    if k == 0:  # lines, an arc and a polyline with a bulge
        s.line(s.edge, (0, h), (0, r))
        s.arc(s.edge, (r, r), r, 180, 270)
        s.path(s.edge, [(r, 0), (w - r, 0), (w, r), (w, h)], bulges=[0, math.tan(math.pi / 8), 0, 0])
        front = arc((r, r), r, 180, 270) + arc((w - r, r), r, 270, 360) + [(w, h)]
    elif k == 1:  # a spline in front
        fit = [(0, 0), (w / 3, -s.rng.uniform(12, 24)), (2 * w / 3, -s.rng.uniform(12, 24)), (w, 0)]
        spline = s.space.add_spline(dxfattribs=s.on(s.edge))
        curve = ezdxf.math.global_bspline_interpolation(fit, degree=3)
        spline.apply_construction_tool(BSpline([(*s.at(p)[:2], 0) for p in curve.control_points], curve.order,
                                               knots=curve.knots()))
        front = [(p.x, p.y) for p in curve.flattening(0.01, segments=16)] + [(w, h)]
        s.loose(s.edge, [((0, h), (0, 0)), tuple(right)])
    elif k == 2:  # half an ellipse in front
        flat = s.rng.uniform(0.35, 0.6)
        (x, y), (u, v) = s.at((w / 2, 0)), s.at((w, 0))
        s.space.add_ellipse((x, y), (u - x, v - y), flat, math.pi, 2 * math.pi, s.on(s.edge))
        turns = [math.pi * (1 + i / 180) for i in range(181)]
        front = [(w / 2 + w / 2 * math.cos(t), flat * w / 2 * math.sin(t)) for t in turns] + [(w, h)]
        s.loose(s.edge, [((0, h), (0, 0)), tuple(right)])
    else:  # old polylines, lines at a height, and in the last case a kind that is no edge
        s.space.add_polyline2d([s.at((0, h)), s.at((0, 0))], dxfattribs=s.on(s.edge))
        z = s.rng.uniform(20, 90) / s.inches
        s.space.add_line((*s.at((w, 0)), z), (*s.at((w, h)), z), s.on(s.edge))
        front = [(0, 0), *right]
        if k == 3:
            s.space.add_polyline3d([(*s.at((0, 0)), z), (*s.at((w, 0)), z)], dxfattribs=s.on(s.edge))
        else:
            other = s.number // 5 % 4
            if other == 0:
                s.mline(s.edge, [(0, 0), (w, 0)])
            elif other == 1:
                s.hatch(s.edge, [(0, 0), (w, 0), (w, 2), (0, 2)])
            elif other == 2:
                s.space.add_leader([s.at((0, 0)), s.at((w, 0))], dxfattribs=s.on(s.edge))
            else:
                quad = [s.at(p) for p in [(0, 0), (w, 0), (w, 1), (0, 1)]]
                s.space.add_3dface(quad, dxfattribs=s.on(s.edge))
            s.unsound("one side of a kind that is not read")
    s.decks.append([[(0, h), *front]])


def blocks(s):
    """The deck in a block: on layer 0, scaled, turned, mirrored, within another; or in a reference that is not there."""
    kind = s.number % 5
    points = s.outline()
    if kind == 4:
        # A whole deck stands here, the other one is in the reference.
        s.house(points)
        s.path(s.edge, points, True)
        s.decks.append([points])
        s.doc.add_xref_def("upper-deck.dxf", "upper-deck")
        s.insert("upper-deck", s.rng.choice([s.edge, "0"]), (points[-1][0] + 200, 0))
        return s.unsound("a reference is missing", True)
    mirror, scale = s.rng.random() < 0.5, s.rng.choice([1, 1, 12, 0.5])
    turn, shift = s.rng.choice([0, 90, s.rng.uniform(0, 360)]), (s.rng.uniform(-99, 99), s.rng.uniform(-99, 99))
    if mirror:
        points = [(-x, y) for x, y in reversed(points)]
    c, n = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def placed(p):
        return p[0] * c - p[1] * n + shift[0], p[0] * n + p[1] * c + shift[1]

    ring = [((-x if mirror else x) / scale, y / scale) for x, y in points]
    left, right, h = min(x for x, _ in points) - 60, max(x for x, _ in points) + 60, points[0][1]
    block = s.doc.blocks.new("DECK")
    layer = s.edge if kind == 1 else "0"
    s.on(layer)
    if s.rng.random() < 0.5:
        block.add_lwpolyline(ring, close=True, dxfattribs={"layer": layer})
    else:
        for a, b in ringed(ring):
            block.add_line(a, b, {"layer": layer})
    name = "DECK"
    if kind in (2, 3):
        outer = s.doc.blocks.new("LEVEL-1")
        outer.add_blockref("DECK", (0, 0), {"layer": "0" if kind == 2 else s.on(s.edge)["layer"]})
        name = "LEVEL-1"
    s.insert(name, s.rng.choice(["0", s.edge]) if kind in (1, 3) else s.edge, shift, scale, turn, mirror)
    s.loose(s.wall, [(placed((left, h)), placed((right, h)))])
    s.walls.append([placed((left, h)), placed((right, h))])
    s.decks.append([[placed(p) for p in points]])


def layers(s):
    """An edge over several layers, names of bound references, and layers that are frozen or switched off."""
    points, free = s.plain(draw=False)
    kind = s.number % 5
    if kind in (0, 1):
        names = ["A-DECK-EDGE", "DECK-EDGE", "SITE$0$A-DECK-EDGE", "Deck-Edge-New"]
        for e in free:
            s.loose(s.rng.choice(names), [e])
    elif kind == 2:  # what is hidden counts for nothing
        s.path("PLAN$0$A-DECK-EDGE", points, True)
        (x, y), (u, v) = points[0], points[-1]
        s.box("DECK-EDGE-OLD", x + 15, y - 100, u - 30, v)
        s.box("DECK-GATE-OLD", x + 20, -3, x + 60, 3)
        s.doc.layers.get("DECK-EDGE-OLD").freeze()
        s.doc.layers.get("DECK-GATE-OLD").off()
    else:
        hidden = s.rng.choice(free)
        s.loose("DECK-EDGE", [e for e in free if e != hidden])
        if kind == 3:
            s.line("DECK-EDGE", *hidden, invisible=1)
            return s.unsound("one side is invisible")
        s.loose("DECK-EDGE-2", [hidden])
        layer = s.doc.layers.get("DECK-EDGE-2")
        s.rng.choice([layer.freeze, layer.off])()
        s.unsound("one side lies on a hidden layer")


def units(s):
    """One deck in each unit; where none is said it must be asked for."""
    s.plain()
    if s.number % 6 == 5:
        s.doc.header["$INSUNITS"] = 0
        if s.number % 12 == 5:
            s.options = ["--units", s.unit]
        else:
            s.unsound("no unit", True)


from drawing_styles_more import STYLES_MORE  # noqa
