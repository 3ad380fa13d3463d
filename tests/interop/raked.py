"""Computes random raked panels anew with numpy and shapely.

    python raked.py --program PLUMBRAIL [--count 200] [--seed 7]

Every panel is made by `plumbrail panel OPENING --slope RISER/TREAD --json`. Pitch, rail length, level marks, gaps, baluster
length and height follow from the slope alone; the members are drawn as parallelograms and measured; the sphere in the
triangle is the inscribed circle of the triangle that three lines make. Fails when anything is off by more than a millionth
of an inch, or when a gap or the triangle lets its sphere through.
"""

import argparse
import concurrent.futures
import fractions
import json
import os
import random
import re
import subprocess
import sys
import tomllib

import numpy as np
from shapely import Polygon, affinity

TOLERANCE = 1e-6  # inches
OPENING, TRIANGLE = fractions.Fraction(35, 8), 6.0  # irc-2021: spheres on the open side of stairs, in inches
NOISE = 0.01 / 25.4  # an opening that misses a mark by less is taken to reach it, in inches
SPACE = fractions.Fraction(1, 32)  # what a finished gap may be wider than its marks say, in inches


def inches(text):
    """The number of a length such as `1-1/4in`, as the catalog files write it."""
    found = re.fullmatch(r"(?:(\d+)-)?(\d+)(?:/(\d+))?in", text)
    whole, top, bottom = found.groups()
    return float(fractions.Fraction(int(whole or 0)) + fractions.Fraction(int(top), int(bottom or 1)))


def run(program, *args):
    found = subprocess.run([program, *args], capture_output=True, text=True, encoding="utf-8")
    if found.returncode not in (0, 1):
        sys.exit(f"{args}: status {found.returncode}\n{found.stderr}")
    return found.stdout


def system(program, name):
    return tomllib.loads(run(program, "list", "systems", "--show", name))


def case(rng):
    """Arguments of one panel, with its unit (inches in one of it)."""
    metric = rng.random() < 0.3
    if metric:
        unit, riser, tread = 1 / 25.4, rng.uniform(100, 200), rng.uniform(255, 350)
        nosing, opening, sign = rng.choice([0.0, rng.uniform(0, 32)]), rng.uniform(300, 1800), "mm"
    else:
        unit, riser, tread = 1.0, rng.uniform(4, 7.9), rng.uniform(10, 14)
        nosing, opening, sign = rng.choice([0.0, rng.uniform(0, 1.25)]), rng.uniform(12, 72), "in"
        if rng.random() < 0.4:  # as stairs are built, and exact where the slope is a Pythagorean one
            riser, tread = rng.choice([(7.5, 10.0), (7.75, 10.0), (7.625, 10.0), (6.0, 12.0), (7.0, 11.0)])
            opening = round(opening * 16) / 16
    name = rng.choice(["composite-36", "composite-36", "metal-42"])
    style = rng.choice(["centred", "even", "punched"] if name == "metal-42" else ["centred", "even"])
    numbers = [f"{value:.4f}" for value in (riser, tread, nosing, opening)]
    r, t, n, o = numbers
    args = ["panel", f"{o}{sign}", "--slope", f"{r}{sign}/{t}{sign}", "--nosing", f"{n}{sign}", "--units", sign,
            "--system", name, "--balusters", style, "--json"]
    return args, name, style, unit, *map(float, numbers)


def near(what, found, wanted, args):
    off = np.max(np.abs(np.asarray(found, dtype=float) - np.asarray(wanted, dtype=float)), initial=0.0)
    if not off <= TOLERANCE * (25.4 if "mm" in args else 1) or np.shape(found) != np.shape(wanted):
        sys.exit(f"{' '.join(args)}: {what}: {found} found, {wanted} wanted")


def sphere(riser, tread, nosing, gap):
    """Diameter of the inscribed circle between a tread, the riser behind it and the rail's underside."""
    rail = lambda x: riser / tread * (tread - x) + gap  # noqa: E731, the nosing of this tread stands at x = tread, y = 0
    back = -nosing
    foot = tread + gap * tread / riser
    corners = np.array([[back, 0.0], [foot, 0.0], [back, rail(back)]])
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)
    return 4 * Polygon(corners).area / sides.sum()


def check(program, systems, given):
    args, name, style, unit, riser, tread, nosing, opening = given
    layout = json.loads(run(program, *args))
    if not layout["panels"]:
        # Only the pitch of punched rails is fixed, so only those do not fit everywhere.
        if style != "punched":
            sys.exit(f"{' '.join(args)}: no panel")
        return 0
    panel, = layout["panels"]
    rail = systems[name]
    raked, width = rail["raked"], inches(rail["baluster"]["width"]) / unit
    mark = 1 / 16 if unit == 1 else 1.0
    slope = np.hypot(riser, tread) / tread

    near("pitch", panel["pitch"], np.degrees(np.arctan2(riser, tread)), args)
    near("span", panel["span"], opening, args)
    free = (opening - 2 * inches(rail["end-clearance"]) / unit + NOISE / unit) * slope
    length = np.floor(free / mark) * mark
    near("rail length", panel["length"], length, args)
    rest = (opening - length / slope) / 2
    near("clearances", [panel["clearance_left"], panel["clearance_right"]], [rest, rest], args)

    balusters = panel["balusters"]
    marks = np.array(balusters["marks"])
    near("marks on the grid", marks / mark, np.round(marks / mark), args)
    level = marks / slope
    near("level marks", balusters["level_marks"], level, args)
    edges = np.concatenate([[0.0], np.ravel(np.column_stack([level - width / 2, level + width / 2])) + rest, [opening]])
    gaps = edges[1::2] - edges[::2]
    near("gaps", [balusters["end_gap_left"], balusters["end_gap_right"], balusters["widest_gap"]],
         [gaps[0], gaps[-1], gaps.max()], args)
    if not (gaps + float(SPACE) / unit < float(OPENING) / unit).all() or not (gaps >= 0).all():
        sys.exit(f"{' '.join(args)}: gaps {gaps}")
    if style == "centred":
        wanted = inches(rail["baluster"]["spacing"]) / unit * slope
        if balusters["spacing"] > wanted + TOLERANCE:
            sys.exit(f"{' '.join(args)}: spacing {balusters['spacing']}, at most {wanted} wanted")

    gap = panel["bottom_gap"]
    most = inches(raked["bottom-gap"]) / unit
    spare = float(SPACE) / unit
    found = sphere(riser, tread, nosing, gap + spare)
    errors = {f["code"] for f in layout["findings"]}
    if (found >= TRIANGLE / unit) != ("triangle-too-wide" in errors) or gap > most + TOLERANCE:
        sys.exit(f"{' '.join(args)}: a sphere of {found} with a gap of {gap}")
    if gap < most - TOLERANCE and "triangle-too-wide" not in errors and sphere(riser, tread, nosing, gap + spare + mark) < TRIANGLE / unit - TOLERANCE:
        sys.exit(f"{' '.join(args)}: the gap of {gap} could be larger")

    heights = np.array([inches(member["height"]) / unit for member in rail["member"]])
    left = inches(raked["height"]) / unit - gap - heights.sum() * slope
    near("baluster length", balusters["length"], np.ceil(left / mark - 1e-6) * mark, args)
    near("height", panel["height"], gap + heights.sum() * slope + balusters["length"], args)

    for cut, height in zip(panel["cuts"], heights, strict=True):
        # Plumb ends, in the elevation; then turned until the member lies level.
        run_, fall, plumb = length / slope, length / slope * riser / tread, height * slope
        outline = Polygon([(0, 0), (run_, -fall), (run_, plumb - fall), (0, plumb)])
        near("area", outline.area, length * height, args)
        lying = affinity.rotate(outline, np.degrees(np.arctan2(riser, tread)), origin=(0, 0))
        low_x, low_y, high_x, high_y = lying.bounds
        near("member on the saw", [cut["tip_to_tip"], height], [high_x - low_x, high_y - low_y], args)
        near("faces", [cut["length"], cut["long_point"], cut["short_point"], cut["plumb"]], [length] * 3 + [panel["pitch"]], args)
    return 1


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=7)
    args = parser.parse_args()
    rng = random.Random(args.seed)
    systems = {name: system(args.program, name) for name in ("composite-36", "metal-42")}
    built, tried = 0, 0
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        while built < args.count:
            cases = [case(rng) for _ in range(args.count - built)]
            built += sum(pool.map(lambda given: check(args.program, systems, given), cases))
            tried += len(cases)
            if tried > 4 * args.count:
                sys.exit(f"only {built} of {tried} openings got a panel")
    print(f"OK {built} raked panels of {tried} openings")


main()
