"""Sixteen ways in which designers draw a deck plan: the generators of drawing_styles.py, which has the sheet they draw on.

Each draws one plan, and says where it is not sound. All is in inches, with the house at the top of the sheet.
"""

import math

from shapely import LineString, Polygon, affinity


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


# ---- the styles

def gaps(s):
    """Loose lines whose ends leave gaps: a sixteenth is a corner, inches are a missing part."""
    _, free = s.plain(draw=False)
    kind, middle = s.number % 5, s.long_edge(free, 96)
    edges, hurt = [], s.rng.randrange(len(free) - 1)
    for i, (a, b) in enumerate(free):
        short = [s.rng.uniform(0, 0.03) for _ in "ab"]
        if kind == 4 and i in (hurt, hurt + 1) and s.number % 10 == 4:
            short[int(i == hurt)] = s.rng.uniform(3, 8)
        ends = along(a, b, short[0]), along(b, a, short[1])
        if (a, b) == middle and kind in (1, 2, 3):
            t = s.rng.uniform(0.3, 0.6) * math.dist(a, b)
            wide = s.rng.uniform(4.5, 12) if kind == 3 else s.rng.uniform(0.01, 0.06)
            edges += [(ends[0], along(a, b, t)), (along(a, b, t + wide), ends[1])]
        elif (a, b) != middle or s.number % 10 != 9:
            edges.append(ends)
    s.loose(s.edge, edges)
    if kind > 2:
        s.unsound("a gap in the middle of an edge" if kind == 3 else "a gap at a corner" if s.number % 10 == 4 else
                  "a side that is not drawn", True)


def overshoots(s):
    """Loose lines that run past their corners: by a thirty-second nobody minds, by inches anything may be meant."""
    _, free = s.plain(draw=False)
    low, high = (1.2, 6) if s.number % 5 == 4 else (0.0, 1 / 32)
    s.loose(s.edge, [(along(a, b, -s.rng.uniform(low, high)), along(b, a, -s.rng.uniform(low, high))) for a, b in free])
    if s.number % 5 == 4:
        s.debatable("lines far past their corners")


def t_joints(s):
    """Beams, joists or a change of boards that end on the edge."""
    points, _ = s.plain(wall=s.rng.random() < 0.8)
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
    points, free = s.plain(draw=False, shapes="rect L octagon", least=168)
    s.path(s.edge, points, True)
    kind = s.number % 4
    layer = s.edge if kind in (0, 1) else s.rng.choice(["A-FLOR-PATT", "BORDER", "DECKING"])
    if kind in (0, 2):
        inner = Polygon(points).buffer(-s.rng.uniform(0.75, 6), join_style="mitre").exterior.coords
        s.path(layer, list(inner)[:-1], True)
    else:
        a, b = s.rng.choice([e for e in free if math.dist(*e) > 60])
        t, u, deep = (s.rng.uniform(*r) for r in [(0, 0.3), (0.6, 1), (40, 60)])
        t, u = t * s.rng.randrange(2) * math.dist(a, b), u * math.dist(a, b)
        field = [beside(a, b, t, 0), beside(a, b, u, 0), beside(a, b, u, deep), beside(a, b, t, deep)]
        s.path(layer, list(Polygon(field).intersection(Polygon(points)).exterior.coords)[:-1], True)
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
        front = s.spline(s.edge, fit) + [(w, h)]
        s.loose(s.edge, [((0, h), (0, 0)), tuple(right)])
    elif k == 2:  # half an ellipse in front
        flat = s.rng.uniform(0.35, 0.6)
        (x, y), (u, v) = s.at((w / 2, 0)), s.at((w, 0))
        s.space.add_ellipse((x, y), (u - x, v - y), flat, math.pi, 2 * math.pi, s.on(s.edge))
        turns = [math.pi * (1 + i / 180) for i in range(181)]
        front = [(w / 2 + w / 2 * math.cos(t), flat * w / 2 * math.sin(t)) for t in turns] + [(w, h)]
        s.loose(s.edge, [((0, h), (0, 0)), tuple(right)])
    else:  # old polylines, lines at a height, and in the last case a kind that is no edge
        z = s.rng.uniform(20, 90) / s.inches
        s.space.add_polyline2d([s.at((0, h)), s.at((0, 0))], dxfattribs=s.on(s.edge) | {"elevation": (0, 0, z)})
        s.space.add_line((*s.at((w, 0)), z), (*s.at((w, h)), z), s.on(s.edge))
        front = [(0, 0), *right]
        if k == 3:
            s.space.add_polyline3d([(*s.at((0, 0)), z), (*s.at((w, 0)), z)], dxfattribs=s.on(s.edge))
        else:
            strip = [(0, 0), (w, 0), (w, 1), (0, 1)]
            [lambda: s.mline(s.edge, strip[:2]), lambda: s.hatch(s.edge, strip),
             lambda: s.space.add_leader([s.at(q) for q in strip[:2]], dxfattribs=s.on(s.edge)),
             lambda: s.space.add_3dface([s.at(q) for q in strip], dxfattribs=s.on(s.edge))][s.number // 5 % 4]()
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
    left, right, h = min(x for x, _ in points) - 60, max(x for x, _ in points) + 60, points[0][1]
    deck, wall = (affinity.translate(affinity.rotate(LineString(row), turn, origin=(0, 0)), *shift).coords
                  for row in (points, [(left, h), (right, h)]))
    block, layer = s.doc.blocks.new("DECK"), s.edge if kind == 1 else "0"
    s.on(layer)
    for a, b in ringed([((-x if mirror else x) / scale, y / scale) for x, y in points]):
        block.add_line(a, b, {"layer": layer})
    name = "DECK"
    if kind in (2, 3):
        outer = s.doc.blocks.new("LEVEL-1")
        outer.add_blockref("DECK", (0, 0), {"layer": "0" if kind == 2 else s.on(s.edge)["layer"]})
        name = "LEVEL-1"
    s.insert(name, s.rng.choice(["0", s.edge]) if kind in (1, 3) else s.edge, shift, scale, turn, mirror)
    s.loose(s.wall, [tuple(wall)])
    s.walls.append(list(wall))
    s.decks.append([list(deck)])


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
        getattr(s.doc.layers.get("DECK-EDGE-2"), s.rng.choice(["freeze", "off"]))()
        s.unsound("one side lies on a hidden layer")


def units(s):
    """One deck in each unit; where none is said the plan is refused until it is."""
    s.plain(wall=s.rng.random() < 0.8)
    if s.number % 6 == 5:
        s.doc.header["$INSUNITS"] = 0
        if s.number % 12 == 5:
            s.options = ["--units", s.unit]
        else:
            s.unsound("no unit", True)


def walls(s):
    """Houses, doors between walls, courts, and walls of something else near the deck."""
    kind = s.number % 8
    if kind in (0, 3):  # a fence or a garage stands by; the outline is closed
        points = s.outline()
        off = s.rng.choice([0, s.rng.uniform(0, 1.5)])  # a deck may stand off its house by a siding
        s.house([(x, y + off) for x, y in points])
        s.path(s.edge, points, True)
        s.decks.append([points])
        if kind == 3:
            far = points[-1][0] + s.rng.uniform(36, 240)
            s.loose(s.wall, [((far, -60), (far, points[0][1] - 30))])
        return None
    w, h = s.rng.uniform(168, 360), s.rng.uniform(144, 260)
    points = [(0, h), (0, 0), (w, 0), (w, h)]
    chain = list(points)
    s.decks.append([points])
    if kind == 1:  # two pieces of the house and a door between them
        t, door, thick = s.rng.uniform(24, w - 120), s.rng.choice([36, 60, 72]), s.rng.uniform(4, 8)
        s.box(s.wall, -50, h, t, h + thick)
        s.box(s.wall, t + door, h, w + 50, h + thick)
        s.line("A-DOOR", (t, h), (t + door, h))
        s.walls += [[(-50, h), (t, h)], [(t + door, h), (w + 50, h)]]
        s.mouth((t, h), (t + door, h))
        s.path(s.edge, points, True)
    elif kind == 6:  # a court: walls on three sides
        s.loose(s.wall, ringed([(0, -60), (0, h), (w, h), (w, -60)])[:3])
        s.walls.append([(0, -60), (0, h), (w, h), (w, -60)])
        if s.number % 16 == 6:
            s.path(s.edge, points, True)
        else:
            s.line(s.edge, (0, 0), (w, 0))
            s.debatable("a single edge across a court")
    else:
        garage = -s.rng.uniform(36, 240)
        if kind != 7 and s.number % 16 != 12:  # without a garage nothing at all tells the side of the edge
            s.box(s.wall, s.rng.uniform(-40, 40), garage - 240, w, garage)
        if kind in (2, 5, 7):
            s.house(points)
        if kind == 5:  # the edge ends before the house
            off = s.rng.uniform(6, 20)
            chain[0], chain[-1] = (0, h - off), (w, h - off)
            s.decks[0] = [list(chain)]
            s.unsound("an edge that ends before the house, beside a garage")
        elif kind == 7:  # one end hangs in the air
            chain[-1] = (w, s.rng.uniform(0.3, 0.7) * h)
            s.unsound("one end of the edge in the air", True)
        elif kind == 4:
            s.unsound("an open edge without a house", True)
        s.path(s.edge, chain[::s.rng.choice([1, -1])])


def openings(s):
    """Openings as lines, rectangles, gates that open inwards or outwards, in the middle and at a corner."""
    kind, wide = s.number % 8, s.rng.uniform(36, 48)
    if kind == 4:  # two gates that face each other
        w, h = s.rng.uniform(90, 140), s.rng.uniform(150, 240)
        points = [(0, h), (0, 0), (w, 0), (w, h)]
        s.house(points)
        s.path(s.edge, points, True)
        s.decks.append([points])
        t = s.rng.uniform(26, h - wide - 26)
        for a, b, from_a in [((0, h), (0, 0), h - t - wide), ((w, 0), (w, h), t)]:
            s.gate(a, b, from_a, wide, True, s.rng.random() < 0.5)
            s.mouth(along(a, b, from_a), along(a, b, from_a + wide))
        return None
    points, free = s.plain("rect L octagon", least=168)
    a, b = s.long_edge(free, wide + 56)
    t = s.rng.uniform(26, math.dist(a, b) - wide - 26)
    if kind == 5:
        t = s.rng.choice([0, 0, s.rng.uniform(0, 10)])
        s.debatable("a gate at a corner")
    s.mouth(along(a, b, t), along(a, b, t + wide))
    if kind in (0, 7):
        ends = [along(a, b, t), along(a, b, t + wide)]
        if kind == 0:
            return s.loose(s.opening, [ends])
        s.mline(s.opening, ends)
        s.unsound("an opening of a kind that is not read")
    elif kind == 1:
        low, high = s.rng.choice([(-3, 3), (0, 5), (-2, 6)])
        s.path(s.opening, [beside(a, b, t, low), beside(a, b, t + wide, low), beside(a, b, t + wide, high),
                           beside(a, b, t, high)], True)
    else:
        s.gate(a, b, t, wide, kind != 3, kind in (2, 3))
    return None


def stairs(s):
    """Flights by treads, outline or arrow, with their rise in a text or in the job; some that cannot be read."""
    points, _ = s.plain("rect L octagon T", least=200)
    hull = Polygon(points).convex_hull.exterior
    # A flight leaves where nothing of the deck stands beside it.
    fit = [e for e in ringed(points)[:-1] if e[0][1] + e[1][1] < 2 * points[0][1] * 0.9 and math.dist(*e) > 116
           and LineString(e).hausdorff_distance(hull.intersection(LineString(e).buffer(1))) < 2 and not s.on_wall(e)]
    edge = max(fit, key=lambda e: math.dist(*e))
    kind, metric = s.number % 10, s.unit in ("mm", "cm", "m")
    tread = s.rng.choice([260, 270, 280]) / 25.4 if metric else s.rng.choice([10, 10.5, 11])
    riser = s.rng.choice([170, 178, 185]) / 25.4 if metric else s.rng.choice([6.75, 7, 7.25, 7.5])
    risers, wide = s.rng.randint(5, 10), s.rng.uniform(40, 56)
    t = s.rng.uniform(26, math.dist(*edge) - wide - 26)
    size = (lambda v: f"{v * 25.4:.0f}") if metric else (lambda v: f'{v:g}"')
    says = s.rng.choice([f"{risers}R @ {size(riser)}", f"DN {risers}R {size(riser)} x {size(tread)}",
                         f"{risers}R {size(riser)} x {size(tread)}"])
    if kind == 7:
        s.flight(edge, wide, t, risers, tread, s.rng.choice(["unequal", "flared", "hatch"]))
        return s.unsound("a flight that cannot be read, its rise unknown", True)
    if kind == 9:
        t = s.rng.choice([0, s.rng.uniform(0, 10)])
        s.debatable("a stair at a corner")
    drawn = {2: "outline", 5: "second", 6: "outline"}.get(kind, "treads")
    place = s.flight(edge, wide, t, risers, tread, drawn)
    if kind == 2:
        says = f"{risers}R {size(riser)} x {size(tread)}"
    if kind == 6:  # a line along its side, from nosing to nosing, tells the rise
        (x, y), (u, v) = s.at(s.flights[0][0]), s.at(s.flights[0][3])
        top = risers * riser
        s.space.add_line((u, v, riser / s.inches), (x, y, top / s.inches), s.on(s.stair))
        says = f"{risers}R"
    if kind == 3:  # an arrow on the way down; the job knows the rise
        s.job, says = f'[stairs]\nriser = "{riser * 25.4:g}mm"\n', "DN"
        place = s.arrow_down(s.flights[0])
    if kind == 8:
        return s.unsound("a flight of unknown rise", True)
    s.text(s.stair, place, says)
    if kind == 4 and len(fit) > 1:
        other = s.rng.choice([e for e in fit if e != edge])
        place = s.flight(other, 40, s.rng.uniform(26, math.dist(*other) - 66), risers, tread)
        s.text(s.stair, place, says)
    return None


def posts(s):
    """Posts drawn at corners, along edges and beside an opening; one that stands in a mouth, some off the line."""
    points, free = s.plain("rect L U T", least=168)
    kind, look = s.number % 7, s.rng.choice(["square", "circle", "point", "block"])
    a, b = s.long_edge(free, 130)
    length, wide = math.dist(a, b), s.rng.uniform(36, 44)
    if kind in (3, 4, 6):
        t = s.rng.uniform(28, length - wide - 28)
        s.loose(s.opening, [(along(a, b, t), along(a, b, t + wide))])
        s.mouth(along(a, b, t), along(a, b, t + wide))
        if kind == 4:
            s.drawn_post(beside(a, b, t + s.rng.uniform(0.3, 0.7) * wide, 4), look)
            s.unsound("a post in a mouth", True)
        elif kind == 6:
            for u in (t - 2.25, t + wide + 2.25):
                s.drawn_post(beside(a, b, u, 4), look)
    if kind != 1:
        on_house = {p for e in ringed(points) if e not in free for p in e}
        inner = list(Polygon(points).buffer(-4, join_style="mitre").exterior.coords)[:-1]
        for p in points:
            if p not in on_house and s.rng.random() < 0.8:
                s.drawn_post(min(inner, key=lambda q: math.dist(p, q)), look)
    if kind in (0, 1, 2, 5):
        off = s.rng.choice([1.5, 6.5, 8]) if kind == 5 else 4
        if kind == 5:
            s.debatable("a post beside the rail line")
        s.drawn_post(beside(a, b, s.rng.uniform(0.35, 0.65) * length, off), look)


def odd_shapes(s):
    """Acute corners, round and curved decks, holes, tabs, several decks."""
    kind, r = s.number % 9, s.rng.uniform(60, 140)
    w, h = s.rng.uniform(200, 400), s.rng.uniform(160, 300)
    points = [(0, h), (0, 0), (w, 0), (w, h)]
    if kind in (0, 1):  # a slanting side
        lean = h / math.tan(math.radians(s.rng.uniform(62, 78) if kind == 0 else s.rng.uniform(30, 45)))
        points = [(0, h), (-lean, 0), (w, 0), (w, h)]
        if kind == 1:
            s.debatable("a very acute corner")
    elif kind == 2:
        s.circle(s.edge, (0, 0), r)
        s.decks.append([arc((0, 0), r, 0, 360, 0.5)[:-1]])
        return
    elif kind == 3:  # a curved front
        bulge = s.rng.uniform(0.15, 0.45)
        s.path(s.edge, points, True, [0, bulge, 0, 0])
        half = 2 * math.atan(bulge)
        radius = w / 2 / math.sin(half)
        centre = (w / 2, radius * math.cos(half))
        turn = math.degrees(half)
        points = [(0, h), *arc(centre, radius, 270 - turn, 270 + turn, 0.5), (w, h)]
    elif kind == 7:  # a tab
        t, d = s.rng.uniform(5, 20), s.rng.uniform(20, 60)
        points[2:2] = [(w / 2, 0), (w / 2, -d), (w / 2 + t, -d), (w / 2 + t, 0)]
        s.debatable("a narrow tab")
    elif kind == 8:
        n = s.rng.choice([6, 8])
        points = [(1.2 * r * math.cos(2 * math.pi * i / n), 1.2 * r * math.sin(2 * math.pi * i / n)) for i in range(n)]
    s.decks.append([points])
    if kind != 8:
        s.house([(0, h), (0, 0), (w, h)])
    if kind != 3:
        s.path(s.edge, points, True)
    if kind == 4:  # a hole
        x, y, d = s.rng.uniform(0.4, 0.6) * w, s.rng.uniform(0.45, 0.55) * h, s.rng.uniform(20, 32)
        if s.rng.random() < 0.5:
            s.decks[0].append([(x - d, y - d), (x + d, y - d), (x + d, y + d), (x - d, y + d)])
            s.path(s.edge, s.decks[0][1], True)
        else:
            s.circle(s.edge, (x, y), d + 8)
            s.decks[0].append(arc((x, y), d + 8, 0, 360)[:-1])
    elif kind in (5, 6):  # another deck, apart or with a side in common
        gap = 0 if kind == 6 else s.rng.uniform(100, 160)
        x, low = w + gap, s.rng.uniform(0, 50)
        other = [(x, h), (x, low), (x + 180, low), (x + 180, h)]
        s.path(s.edge, other, True)
        s.decks.append([other])
        s.house([(x, h), (x, low), (x + 180, h)], "line")
        if kind == 6:
            s.debatable("two decks with a side in common")


def names(s):
    """Layers whose names hold a word of ours by chance, with lines near the deck."""
    points, free = s.plain()
    decoys = ["AGGREGATE", "IRRIGATION", "WAREHOUSE-GRID", "SEAWALL", "DRYWALL", "RETAINING-WALL", "POSTAL", "FIREPLACE",
              "L-IRRIGATE", "COMPOST", "C-SEAWALL-TOE", "FLOODGATES"]
    picked = [decoys[s.number % 8], *s.rng.sample(decoys, 2)]
    for layer in picked:
        a, b = s.rng.choice(free)
        length = math.dist(a, b)
        t, u = sorted(s.rng.uniform(0, length) for _ in "ab")
        off = s.rng.choice([-1, 0, -s.rng.uniform(0, 20), s.rng.uniform(0, 20)])
        if layer in ("POSTAL", "COMPOST"):
            s.circle(layer, beside(a, b, t, off), 2.5)
        elif s.rng.random() < 0.6:
            s.line(layer, beside(a, b, t - 20, off), beside(a, b, u + 20, off))
        else:
            s.path(layer, [beside(a, b, t, off), beside(a, b, u, off), beside(a, b, u, off - 60),
                           beside(a, b, t, off - 60)], True)


def many_objects(s):
    """Dimensions, texts, hatches, furniture and trees around a plain deck."""
    points, free = s.plain(wall=s.rng.random() < 0.8)
    xs, ys = zip(*points)
    table = s.doc.blocks.new("TABLE")
    table.add_circle((0, 0), 20, {"layer": "0"})
    for k in range(4):
        table.add_lwpolyline([(24, -8), (40, -8), (40, 8), (24, 8)], close=True, dxfattribs={"layer": "0"})
    s.hatch("A-FLOR-PATT", points)
    for a, b in free:
        s.space.add_aligned_dim(p1=s.at(a)[:2], p2=s.at(b)[:2], distance=-20 / s.inches,
                                dxfattribs=s.on("A-DIMS")).render()
    if s.number % 3 == 0:  # notes on layers of ours, which say nothing new
        a, b = s.rng.choice(free)
        s.text(s.edge, beside(a, b, 30, -12), "EDGE OF DECK")
        s.space.add_aligned_dim(p1=s.at(a)[:2], p2=s.at(b)[:2], distance=-32 / s.inches,
                                dxfattribs=s.on(s.edge)).render()
        s.space.add_leader([s.at(beside(a, b, 50, 0)), s.at(beside(a, b, 70, -30))], dxfattribs=s.on(s.edge))
        if s.number % 2 or not s.walls:
            s.hatch(s.edge, points)
        else:
            s.hatch(s.wall, [(xs[0], ys[0] + 1), (xs[-1], ys[0] + 1), (xs[-1], ys[0] + 4), (xs[0], ys[0] + 4)])
    for _ in range(s.rng.randint(200, 300)):
        p = s.rng.uniform(min(xs) - 99, max(xs) + 99), s.rng.uniform(min(ys) - 99, max(ys) + 99)
        layer = s.rng.choice(["L-PLNT", "A-FURN", "A-ANNO", "E-LITE", "S-JOIST"])
        what = s.rng.randrange(4)
        if what == 0:
            s.circle(layer, p, s.rng.uniform(2, 40))
        elif what == 1:
            s.text(layer, p, s.rng.choice(["deck above", "gate by others", "12R 7 x 10", "post 6x6", "see wall plan"]))
        elif what == 2:
            s.insert("TABLE", layer, p, turn=s.rng.uniform(0, 360))
        else:
            s.line(layer, p, (p[0] + s.rng.uniform(-60, 60), p[1] + s.rng.uniform(-60, 60)))


STYLES = {style.__name__: style for style in [
    gaps, overshoots, t_joints, doubles, borders, mixed_kinds, blocks, layers, units, walls, openings, stairs, posts,
    odd_shapes, names, many_objects]}
