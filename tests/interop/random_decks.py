"""Compares rail lines, posts and clear spans of random decks with shapely.

    python random_decks.py --make DIR [--count 200] [--seed 7]
    python random_decks.py --check DIR --program PLUMBRAIL

--make writes DIR/deck-NNN.dxf with what shapely says about its rail line in deck-NNN.json; --check lays every deck out and
compares. Fails when anything is off by more than a millionth of an inch, the last digit that layout.json prints.
"""

import argparse
import concurrent.futures
import json
import math
import pathlib
import random
import subprocess
import sys

import ezdxf
from shapely import LineString, Point, Polygon, affinity, box, union_all

INSET, SIDE, LONGEST = 4.0, 4.5, 84.0  # of the built-in system composite-36, in inches
SHORTEST_EDGE = 48.0
CLEARANCE = 24.0  # between parts of the edge that do not meet: room for two posts and the rails between
ANGLES = [(60, 170), (190, 300)]  # at a corner, inside the deck; nearly straight corners are no corners on a real deck
WALL_ANGLES = (60, 120)  # where an edge meets the wall
TOLERANCE = 1.01e-6  # a printed figure is off by half of its last digit, and so is the one beside it

ezdxf.options.write_fixed_meta_data_for_testing = True


# ---- making decks

def interior_angle(before, at, after):
    """Angle on the left of the way before-at-after, in degrees."""
    turn = math.atan2(before[1] - at[1], before[0] - at[0]) - math.atan2(after[1] - at[1], after[0] - at[0])
    return math.degrees(turn) % 360


def corners(points, closed):
    """(before, at, after) of every corner."""
    n = len(points)
    return [(points[i - 1], points[i], points[(i + 1) % n]) for i in (range(n) if closed else range(1, n - 1))]


def is_sound(points, closed):
    """Whether edges, angles and clearances are such as a deck has."""
    ends = list(zip(points, points[1:] + (points[:1] if closed else [])))
    edges = [LineString(e) for e in ends]
    if any(e.length < SHORTEST_EDGE for e in edges):
        return False
    angles = [interior_angle(*c) for c in corners(points, closed)]
    if not all(any(low <= a <= high for low, high in ANGLES) for a in angles):
        return False
    apart = [(a, b) for i, a in enumerate(edges) for b in edges[i + 2:] if not (closed and a is edges[0] and b is edges[-1])]
    return all(a.distance(b) >= CLEARANCE for a, b in apart)


def skyline(rng):
    """Rectilinear outline: columns of random width, stepped at the top and at the bottom. Counter-clockwise."""
    xs, low, high = [0.0], [], []
    for _ in range(rng.choice([1, 2, 3, 3, 4, 4])):
        xs.append(xs[-1] + rng.uniform(50, 160))
        low.append(rng.choice([*low[-1:], -rng.uniform(0, 200), -rng.uniform(0, 200)]))
        high.append(rng.choice([*high[-1:], rng.uniform(60, 260), rng.uniform(60, 260)]))
    bottom = [p for x0, x1, y in zip(xs, xs[1:], low) for p in ((x0, y), (x1, y))]
    top = [p for x0, x1, y in zip(xs, xs[1:], high) for p in ((x0, y), (x1, y))]
    ring = bottom + top[::-1]
    # Steps of no height leave a point twice, and then a corner that is none.
    ring = [p for p, q in zip(ring, ring[1:] + ring[:1]) if p != q]
    return [at for before, at, after in corners(ring, True) if abs(interior_angle(before, at, after) - 180) > 1]


def star(rng):
    """General outline, seen whole from a point inside. Counter-clockwise."""
    turns = sorted(rng.uniform(0, 2 * math.pi) for _ in range(rng.randint(4, 8)))
    return [(r * math.cos(t), r * math.sin(t)) for t in turns for r in [rng.uniform(80, 320)]]


def chain(rng):
    """Open edge that runs from left to right, the deck above it: on its left."""
    points = [(0.0, 0.0)]
    for _ in range(rng.randint(1, 6)):
        points.append((points[-1][0] + rng.uniform(0, 150), rng.uniform(-90, 90)))
    return points


def strip(a, b):
    """House wall of 6 in along a-b, the deck on its left, standing out by 24 in at both ends."""
    dx, dy = (b[0] - a[0]) / math.dist(a, b), (b[1] - a[1]) / math.dist(a, b)
    near = [(a[0] - 24 * dx, a[1] - 24 * dy), (b[0] + 24 * dx, b[1] + 24 * dy)]
    return near + [(x + 6 * dy, y - 6 * dx) for x, y in reversed(near)]


def deck(rng, kind):
    """Edge (counter-clockwise, or with the deck on its left), whether closed, index of the edge on the wall, wall."""
    outline_of = rng.choice([skyline, star])
    while True:
        if kind == "chain":
            points = chain(rng)
            if is_sound(points, False):
                right = max(x for x, _ in points)
                return points, False, None, list(box(-24, 160, right + 24, 166).exterior.coords)[:-1]
            continue
        points = outline_of(rng)
        outline = Polygon(points)
        if not (outline.is_valid and outline.exterior.is_ccw and is_sound(points, True)):
            continue
        if kind == "free":
            return points, True, None, None
        at_wall = rng.randrange(len(points))
        points = points[at_wall + 1:] + points[:at_wall + 1]  # the edge on the wall is now the closing one
        angles = [interior_angle(*c) for c in corners(points, True)]
        wall = strip(points[-1], points[0])
        others = LineString(points[1:-1]) if len(points) > 3 else Point(points[1])
        if all(WALL_ANGLES[0] <= angles[i] <= WALL_ANGLES[1] for i in (0, -1)) \
                and Polygon(wall).intersection(outline).area < 1e-6 and Polygon(wall).distance(others) > CLEARANCE:
            return points, kind == "walled", len(points) - 1, wall


def moved(points, turn, by):
    turned = affinity.translate(affinity.rotate(LineString(points), turn, origin=(0, 0)), *by)
    return list(turned.coords)


def nearest(candidates, point, reach):
    found = [c for c in candidates if math.dist(c, point) <= reach]
    if len(found) != 1:
        raise ValueError(f"{len(found)} rail line vertices belong to {point}")
    return found[0]


def extended_to(face, inner, outer):
    """Where the ray from inner through outer meets the wall's face."""
    far = [o + (o - i) * 1000 / math.dist(inner, outer) for i, o in zip(inner, outer)]
    met = LineString([inner, far]).intersection(face)
    return met.coords[0]


def rail_line(points, closed, on_wall):
    """Rail line by shapely, with its ends on the wall if there is one. Runs like points."""
    mitre = {"join_style": "mitre", "mitre_limit": 100}
    if on_wall is not None or closed:
        offset = list(Polygon(points).buffer(-INSET, **mitre).exterior.coords)[:-1]
        if len(offset) != len(points):
            raise ValueError("the rail line has other vertices than the edge")
    else:
        offset = list(LineString(points).offset_curve(INSET, **mitre).coords)
    reach = INSET / math.sin(math.radians(ANGLES[0][0] / 2)) + 0.01
    line = [nearest(offset, p, reach) for p in points]
    if on_wall is not None:
        face = LineString([points[-1], points[0]])
        line[0] = extended_to(face, line[1], line[0])
        line[-1] = extended_to(face, line[-2], line[-1])
    return line


def draw(rng, points, closed, wall, whole):
    """Edges as one polyline, always where `whole`, or as shuffled lines; and the wall."""
    doc = ezdxf.new("R2000", units=1)
    msp = doc.modelspace()
    if rng.random() < 0.5 or whole:
        msp.add_lwpolyline(points, close=closed, dxfattribs={"layer": "A-DECK-EDGE"})
    else:
        edges = list(zip(points, points[1:] + (points[:1] if closed else [])))
        rng.shuffle(edges)
        for a, b in edges:
            msp.add_line(*((a, b) if rng.random() < 0.5 else (b, a)), {"layer": "A-DECK-EDGE"})
    if wall:
        msp.add_lwpolyline(wall, close=True, dxfattribs={"layer": "A-WALL"})
    return doc


def make(folder, count, seed):
    folder.mkdir(parents=True, exist_ok=True)
    rng = random.Random(seed)
    kinds = ["free", "walled", "open", "chain"]
    for number in range(count):
        kind = kinds[number % 4]
        points, closed, on_wall, wall = deck(rng, kind)
        place = rng.choice([0, 90, rng.uniform(0, 360)]), (rng.uniform(-5000, 5000), rng.uniform(-5000, 5000))
        points, wall = moved(points, *place), wall and moved(wall, *place)
        line = rail_line(points, closed, on_wall)
        draw(rng, points, closed, wall, kind == "chain").saveas(folder / f"deck-{number:03}.dxf")
        if kind == "chain":
            # No wall touches an edge with free ends: the job says where the deck lies, and that the ends are meant so.
            (folder / f"deck-{number:03}.toml").write_text('inside = "left"\nends = "free"\n', encoding="utf-8")
        expected = {
            "kind": kind,
            "rail": line[::-1],  # from left to right as seen from the deck: the deck lies on the right
            "ends": {"free": "none", "chain": "post"}.get(kind, "wall"),
        }
        (folder / f"deck-{number:03}.json").write_text(json.dumps(expected, indent=1) + "\n", encoding="utf-8")
    print(f"OK {count} decks in {folder}")


# ---- checking layouts

class Wrong(Exception):
    """A layout differs from what it should be."""


def laid_out(program, plan, out):
    """The layout of one plan and the program's exit status."""
    command = [program, "layout", plan, "--out", out, "--formats", "json", "--system", "composite-36"]
    job = pathlib.Path(plan).with_suffix(".toml")
    if job.exists():
        command += ["--job", job]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    if ended.returncode not in (0, 1):
        raise Wrong(f"exit status {ended.returncode}: {ended.stderr.strip()}")
    with open(out / "layout.json", encoding="utf-8") as file:
        return json.load(file), ended.returncode


def same(what, got, wanted):
    """Two figures or two points must agree; gives by how much they differ."""
    off = abs(got - wanted) if isinstance(got, (int, float)) else max(abs(g - w) for g, w in zip(got, wanted))
    if not off <= TOLERANCE:
        raise Wrong(f"{what} is {got}, shapely says {wanted}")
    return off


def folded(angle):
    """An angle as a square post sees it: within 45 degrees."""
    return (angle + 45) % 90 - 45


def direction(a, b):
    return math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))


class Layout:
    """A layout.json beside the rail line that it should have."""

    def __init__(self, layout, expected, setback):
        if layout["units"] != "in":
            raise Wrong(f"units are {layout['units']}")
        self.posts = {post["id"]: post for post in layout["posts"]}
        self.panels = layout["panels"]
        self.rail = [tuple(p) for p in expected["rail"]]
        self.ends = expected["ends"]
        self.exact = {}  # post id -> exact centre
        self.off = 0.0
        if self.ends == "post":
            self.rail[0] = self.end(self.rail[0], self.rail[1], setback)
            self.rail[-1] = self.end(self.rail[-1], self.rail[-2], setback)

    @staticmethod
    def end(at, inner, setback):
        """Centre of an end post, which stands back from the free end."""
        part = setback / math.dist(at, inner)
        return at[0] + (inner[0] - at[0]) * part, at[1] + (inner[1] - at[1]) * part

    def post_at(self, centre, kind):
        """Id of the one post that stands at an exact place."""
        near = [i for i, post in self.posts.items() if math.dist((post["x"], post["y"]), centre) < 0.01]
        if len(near) != 1:
            raise Wrong(f"{len(near)} posts at {centre}, where a post of kind {kind} should stand")
        post = self.posts[near[0]]
        self.off = max(self.off, same(f"place of {near[0]}", (post["x"], post["y"]), centre))
        if post["kind"] != kind or post["side"] != SIDE:
            raise Wrong(f"{near[0]} is of kind {post['kind']} and {post['side']} wide; {kind} and {SIDE} are due")
        self.exact[near[0]] = centre
        return near[0]

    def square(self, post):
        x, y = self.exact[post]
        half = SIDE / 2
        return affinity.rotate(box(x - half, y - half, x + half, y + half), self.posts[post]["rotation"], origin=(x, y))

    def check_turn(self, post, *rails):
        """The rails' skews at a post must balance: equal sizes, opposite sides."""
        skews = [folded(d - self.posts[post]["rotation"]) for d in rails]
        # Half of what two rails can differ by, seen from a square, is 22.5 degrees: more is the wrong one of two turns.
        if abs(sum(skews)) > 1e-5 or max(map(abs, skews)) > 22.5 + 1e-5:
            raise Wrong(f"{post} is turned by {self.posts[post]['rotation']}: skews are {skews}")

    def check_stretch(self, a, b, start, end):
        """Bays between two fixed ends; start and end are post ids, or None at a wall."""
        line = LineString([a, b])
        fixed = [self.square(post) for post in (start, end) if post]
        clear = line.difference(union_all(fixed)).length
        first = line.intersection(self.square(start)).length if start else 0.0
        along = [line.project(Point(post["x"], post["y"])) for i, post in self.posts.items()
                 if i not in self.exact and line.distance(Point(post["x"], post["y"])) < 0.01]
        bays = len(along) + 1
        span = (clear - (bays - 1) * SIDE) / bays
        if span > LONGEST + TOLERANCE:
            raise Wrong(f"{bays} bays of {span} between {start} and {end}: too long")
        if bays > 1 and (clear - (bays - 2) * SIDE) / (bays - 1) < LONGEST - TOLERANCE:
            raise Wrong(f"{bays} bays between {start} and {end} where {bays - 1} would do")
        row = [start]
        for k in range(1, bays):
            at = line.interpolate(first + k * span + (k - 0.5) * SIDE)
            row.append(self.post_at((at.x, at.y), "line"))
            self.check_turn(row[-1], direction(a, b))
        row.append(end)
        squares = union_all([self.square(post) for post in row if post])
        places = [a, *(self.exact[post] for post in row[1:-1]), b]
        spans = [self.check_panel(*pair, LineString(ends).difference(squares).length)
                 for pair, ends in zip(zip(row, row[1:]), zip(places, places[1:]))]
        if max(spans) - min(spans) > TOLERANCE:
            raise Wrong(f"bays between {start} and {end} are not equal: {spans}")

    def check_panel(self, start, end, clear):
        """The one panel between two supports, left to right."""
        names = (start or "wall", end or "wall")
        found = [panel for panel in self.panels if (panel["from"], panel["to"]) == names]
        if len(found) != 1:
            raise Wrong(f"{len(found)} panels from {names[0]} to {names[1]}")
        self.off = max(self.off, same(f"span of {found[0]['id']}", found[0]["span"], clear))
        return found[0]["span"]

    def check(self):
        rail, closed = self.rail, self.ends == "none"
        last = len(rail) - 1
        posts = []
        for i, at in enumerate(rail):
            kind = "corner" if closed or 0 < i < last else "end"
            posts.append(None if kind == "end" and self.ends == "wall" else self.post_at(at, kind))
        pairs = [(i, i + 1) for i in range(last)] + ([(last, 0)] if closed else [])
        for k, post in enumerate(posts):
            if post:
                self.check_turn(post, *(direction(rail[i], rail[j]) for i, j in pairs if k in (i, j)))
        for i, j in pairs:
            self.check_stretch(rail[i], rail[j], posts[i], posts[j])
        if len(self.exact) != len(self.posts):
            raise Wrong(f"posts too many: {sorted(self.posts.keys() - self.exact.keys())}")
        if len(self.panels) != len(self.exact) + {"none": 0, "post": -1, "wall": 1}[self.ends]:
            raise Wrong(f"{len(self.panels)} panels for {len(self.exact)} posts")
        if len({panel["run"] for panel in self.panels}) != 1:
            raise Wrong("one deck edge, but not one run")


def check_one(plan, program, setback):
    expected = json.loads(plan.with_suffix(".json").read_text(encoding="utf-8"))
    try:
        layout, status = laid_out(program, plan, plan.parent / "out" / plan.stem)
        compared = Layout(layout, expected, setback)
        compared.check()
    except (Wrong, KeyError, OSError, ValueError, subprocess.SubprocessError) as error:
        return f"{plan}: {type(error).__name__}: {error}", 0, 0, 0, 0.0
    return None, status, len(compared.posts), len(compared.panels), compared.off


def check(folder, program, setback):
    plans = sorted(folder.glob("deck-*.dxf"))
    if not plans:
        sys.exit(f"FAILED no decks in {folder}")
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        results = list(pool.map(lambda plan: check_one(plan, program, setback), plans))
    wrong = [result[0] for result in results if result[0]]
    for message in wrong:
        print(message, file=sys.stderr)
    if wrong:
        sys.exit(f"FAILED {len(wrong)} of {len(plans)} decks")
    status, posts, panels = (sum(result[i] for result in results) for i in (1, 2, 3))
    off = max(result[4] for result in results)
    print(f"OK {len(plans)} decks, {posts} posts, {panels} panels, {status} decks with exit status 1, "
          f"largest difference {off:.2e} in")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    task = parser.add_mutually_exclusive_group(required=True)
    task.add_argument("--make", type=pathlib.Path, metavar="DIR")
    task.add_argument("--check", type=pathlib.Path, metavar="DIR")
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--program", help="the plumbrail program")
    parser.add_argument("--end-setback", type=float, default=SIDE / 2,
                        help="distance of an end post's centre from the free end, in inches")
    args = parser.parse_args()
    if args.make:
        make(args.make, args.count, args.seed)
    elif args.program:
        check(args.check, args.program, args.end_setback)
    else:
        parser.error("--check needs --program")


if __name__ == "__main__":
    main()
