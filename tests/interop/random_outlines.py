"""Compares the rail lines of random outlines, hard ones among them, with shapely's mitred buffer and offset curve.

    python random_outlines.py --make DIR [--count 1000] [--seed 7]
    python random_outlines.py --check DIR --program PLUMBRAIL

Outlines are closed polygons and open lines with tabs, necks, notches and sharp corners of any size down to an inch, so that
edges vanish and rail lines part at the inset. Each drawing holds 50 of them, side by side. Every corner of every rail line
must lie within a millionth of an inch of shapely's; what the program says it cannot lay is counted, and may not be much.
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
from shapely import LineString, Polygon

INSET, SIDE = 4.0, 4.5  # of the built-in system composite-36, in inches
TOLERANCE = 1.01e-6
PITCH, PER_FILE = 1000.0, 50
MITRE = {"join_style": "mitre", "mitre_limit": 100}
SHARPEST = 15  # degrees: sharper corners are bevelled, by shapely and by us in ways of our own
UNTOLD = 0.02  # share of outlines that the program may refuse with a finding

ezdxf.options.write_fixed_meta_data_for_testing = True


# ---- making outlines

def skyline(rng):
    """Rectilinear outline of columns, some of them narrower than twice the inset."""
    xs, low, high = [0.0], [], []
    for _ in range(rng.randint(1, 7)):
        xs.append(xs[-1] + rng.choice([rng.uniform(1, 12), rng.uniform(20, 90)]))
        low.append(rng.choice([*low[-1:], -rng.uniform(0, 80), -rng.uniform(0, 80)]))
        high.append(rng.choice([*high[-1:], rng.uniform(3, 120), rng.uniform(3, 120)]))
    bottom = [p for x0, x1, y in zip(xs, xs[1:], low) for p in ((x0, y), (x1, y))]
    top = [p for x0, x1, y in zip(xs, xs[1:], high) for p in ((x0, y), (x1, y))]
    return bottom + top[::-1]


def star(rng):
    """Outline seen whole from a point inside, with spikes and notches."""
    turns = sorted(rng.uniform(0, 2 * math.pi) for _ in range(rng.randint(3, 14)))
    return [(r * math.cos(t), r * math.sin(t)) for t in turns for r in [rng.uniform(20, 250)]]


def chain(rng):
    """Open line from left to right, its edges an inch and longer."""
    points = [(0.0, 0.0)]
    for _ in range(rng.randint(1, 9)):
        points.append((points[-1][0] + rng.choice([rng.uniform(1, 8), rng.uniform(20, 110)]), rng.uniform(-60, 60)))
    return points


def plain(points, closed):
    """Without vertices where the line goes straight on, which are no corners."""
    out = []
    n = len(points)
    for i, (x, y) in enumerate(points):
        if closed or 0 < i < n - 1:
            (a, b), (c, d) = points[i - 1], points[(i + 1) % n]
            u, v = (x - a, y - b), (c - x, d - y)
            if abs(u[0] * v[1] - u[1] * v[0]) <= 1e-7 * math.hypot(*u) * math.hypot(*v) and u[0] * v[0] + u[1] * v[1] >= 0:
                continue
        out.append((x, y))
    return out


def is_usable(points, closed):
    """Simple, without corners too sharp or too flat to compare, edges not drawing noise."""
    n = len(points)
    if n < (3 if closed else 2):
        return False
    edges = list(zip(points, points[1:] + (points[:1] if closed else [])))
    if any(math.dist(a, b) < 1 for a, b in edges):
        return False
    for (a, b), (_, c) in zip(edges, edges[1:] + (edges[:1] if closed else [])):
        turn = math.degrees(math.atan2(c[1] - b[1], c[0] - b[0]) - math.atan2(b[1] - a[1], b[0] - a[0]))
        turn = abs((turn + 180) % 360 - 180)
        if turn < 1 or turn > 180 - SHARPEST:
            return False
    return Polygon(points).is_valid if closed else LineString(points).is_simple


def rings(points):
    """Corners of the rail lines of a closed outline."""
    inside = Polygon(points).buffer(-INSET, **MITRE)
    parts = [inside] if inside.geom_type == "Polygon" else list(inside.geoms)
    return [plain(list(ring.coords)[:-1], True) for part in parts if not part.is_empty
            for ring in (part.exterior, *part.interiors)]


def open_line(points):
    """Corners of the rail line on the left of an open line; None where shapely gives no single line from end to end."""
    curve = LineString(points).offset_curve(INSET, **MITRE)
    if curve.geom_type != "LineString" or curve.is_empty:
        return None
    line = plain(list(curve.coords), False)
    ends = []
    for (a, b), at in (((points[0], points[1]), points[0]), ((points[-2], points[-1]), points[-1])):
        length = math.dist(a, b)
        ends.append((at[0] - (b[1] - a[1]) / length * INSET, at[1] + (b[0] - a[0]) / length * INSET))
    # What comes near the line's own end from elsewhere cuts it off; the two sides then need not agree on where.
    kept = all(math.dist(at, end) < 1e-6 for at, end in zip((line[0], line[-1]), ends))
    # Room for the end posts.
    roomy = min(math.dist(*line[:2]), math.dist(*line[-2:])) > 1.1 * SIDE if len(line) > 1 else False
    return line if kept and roomy else None


def outline(rng, kind):
    while True:
        if kind == "chain":
            points = plain(chain(rng), False)
            if is_usable(points, False) and (line := open_line(points)):
                return points, [line]
            continue
        points = plain({"skyline": skyline, "star": star}[kind](rng), True)
        if is_usable(points, True):
            if not Polygon(points).exterior.is_ccw:
                points.reverse()
            return points, rings(points)


def moved(points, by):
    return [(x + by[0], y + by[1]) for x, y in points]


def make(folder, count, seed):
    folder.mkdir(parents=True, exist_ok=True)
    rng = random.Random(seed)
    (folder / "job.toml").write_text('inside = "left"\n', encoding="utf-8")
    for number in range(0, count, PER_FILE):
        doc = ezdxf.new("R2000", units=1)
        expected = []
        for place in range(min(PER_FILE, count - number)):
            kind = ["skyline", "star", "chain"][place % 3]
            points, lines = outline(rng, kind)
            by = (place % 10 * PITCH, place // 10 * PITCH)
            doc.modelspace().add_lwpolyline(moved(points, by), close=kind != "chain", dxfattribs={"layer": "A-DECK-EDGE"})
            expected.append({"kind": kind, "lines": [moved(line, by) for line in lines]})
        doc.saveas(folder / f"outlines-{number // PER_FILE:02}.dxf")
        (folder / f"outlines-{number // PER_FILE:02}.json").write_text(json.dumps(expected) + "\n", encoding="utf-8")
    print(f"OK {count} outlines in {folder}")


# ---- checking layouts

def place_of(x, y):
    """Index of the outline that a point belongs to."""
    return round(x / PITCH) + 10 * round(y / PITCH)


def compared(run, line, closed):
    """Largest difference between a run's corners and those of a line; None when they have not the same."""
    corners = [(p["x"], p["y"]) for p in run["line"]]
    if closed != run["closed"]:
        return None
    if not closed:
        # Ends are posts' centres, half a post back from the line's ends.
        line = list(line)
        for end, inner in ((0, 1), (-1, -2)):
            part = SIDE / 2 / math.dist(line[end], line[inner])
            line[end] = tuple(e + (i - e) * part for e, i in zip(line[end], line[inner]))
    if len(corners) != len(line):
        return None
    return max(min(math.dist(c, p) for c in corners) for p in line)


def check_one(plan, program):
    expected = json.loads(plan.with_suffix(".json").read_text(encoding="utf-8"))
    out = plan.parent / "out" / plan.stem
    command = [program, "layout", plan, "--out", out, "--formats", "json", "--job", plan.parent / "job.toml"]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    if ended.returncode not in (0, 1):
        return [f"{plan}: exit status {ended.returncode}: {ended.stderr.strip()}"], 0, 0, 0.0
    layout = json.loads((out / "layout.json").read_text(encoding="utf-8"))
    runs, refused = {}, set()
    for run in layout["runs"]:
        x, y = (sum(p[k] for p in run["line"]) / len(run["line"]) for k in "xy")
        runs.setdefault(place_of(x, y), []).append(run)
    for finding in layout["findings"]:
        if finding["code"] in ("rail-line-fails", "edge-crosses") and "x" in finding["place"]:
            refused.add(place_of(finding["place"]["x"], finding["place"]["y"]))
    wrong, lines, told, off = [], 0, 0, 0.0
    for place, outline_ in enumerate(expected):
        found, wanted = runs.get(place, []), outline_["lines"]
        if place in refused and not found:
            told += bool(wanted)
            continue
        differences = []
        for line in wanted:
            best = [d for run in found if (d := compared(run, line, outline_["kind"] != "chain")) is not None]
            differences.append(min(best, default=math.inf))
        if len(found) != len(wanted) or max(differences, default=0.0) > TOLERANCE:
            wrong.append(f"{plan}: {outline_['kind']} {place}: {len(found)} rail lines of "
                         f"{[len(run['line']) for run in found]} corners, shapely has {[len(w) for w in wanted]}; "
                         f"differences {differences}")
            continue
        lines += len(wanted)
        off = max(off, *differences, 0.0)
    return wrong, lines, told, off


def check(folder, program):
    plans = sorted(folder.glob("outlines-*.dxf"))
    if not plans:
        sys.exit(f"FAILED no outlines in {folder}")
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        results = list(pool.map(lambda plan: check_one(plan, program), plans))
    wrong = [message for result in results for message in result[0]]
    for message in wrong:
        print(message, file=sys.stderr)
    count = sum(len(json.loads(p.with_suffix(".json").read_text(encoding="utf-8"))) for p in plans)
    lines, told = (sum(result[i] for result in results) for i in (1, 2))
    if wrong or told > UNTOLD * count:
        sys.exit(f"FAILED {len(wrong)} of {count} outlines; {told} refused that shapely has a line for")
    print(f"OK {count} outlines, {lines} rail lines, {told} refused with a finding, "
          f"largest difference {max(result[3] for result in results):.2e} in")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    task = parser.add_mutually_exclusive_group(required=True)
    task.add_argument("--make", type=pathlib.Path, metavar="DIR")
    task.add_argument("--check", type=pathlib.Path, metavar="DIR")
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--program", help="the plumbrail program")
    args = parser.parse_args()
    if args.make:
        make(args.make, args.count, args.seed)
    elif args.program:
        check(args.check, args.program)
    else:
        parser.error("--check needs --program")


if __name__ == "__main__":
    main()
