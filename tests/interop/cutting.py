"""Cuts the same jobs by scipy's mixed-integer solver (HiGHS) over all fillings of a stick, and measures our sticks with shapely.

    python cutting.py FILE.json

The file holds a list of jobs with what our program made of them, lengths in nanometres and angles in degrees. Costs must be
equal and bounds no higher. Each piece is drawn at its place: none leaves its stick, and two neighbours are a kerf apart.
"""

import json
import math
import pathlib
import sys

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix
from shapely import Polygon

TOLERANCE = 2e-6  # mm: two roundings to the nanometre


def shares_tips(piece, job):
    return job["nest"] and piece["left"] != 0 and piece["left"] + piece["right"] == 0


def size(piece, job):
    """What a piece takes of a stick, the gap behind it included, and the row that it stands in with what that takes."""
    kerf = job["kerf"]
    if not shares_tips(piece, job):
        return piece["length"] + kerf, None, 0
    lean = math.radians(piece["left"])
    tip = round(piece["width"] * abs(math.tan(lean)))
    gap = math.ceil(kerf / math.cos(lean))
    return piece["length"] - tip + gap, (piece["left"], piece["width"]), max(0, tip - gap + kerf)


def fillings(sizes, counts, capacity):
    """All ways to fill a stick to which no piece can be added."""
    found = []

    def walk(at, free, rows, taken):
        if at == len(sizes):
            for (weight, row, setup), most, used in zip(sizes, counts, taken):
                if used < most and weight + (0 if row is None or row in rows else setup) <= free:
                    return
            found.append(tuple(taken))
            return
        weight, row, setup = sizes[at]
        walk(at + 1, free, rows, [*taken, 0])
        begin = 0 if row is None or row in rows else setup
        for used in range(1, counts[at] + 1):
            left = free - begin - used * weight
            if left < 0:
                break
            walk(at + 1, left, rows if row is None else rows | {row}, [*taken, used])

    walk(0, capacity, frozenset(), [])
    return [f for f in found if any(f)]


def least_cost(job):
    """Cost of the best plan, and the pieces that no stick takes."""
    capacities = [s["length"] - 2 * job["trim"] + job["kerf"] for s in job["stocks"]]
    longest = max(capacities)
    by_length = any(s["on_hand"] is None and s["price"] is None for s in job["stocks"])
    demand, left_out = {}, []
    for index, piece in enumerate(job["pieces"]):
        taken = size(piece, job)
        if taken[0] + taken[2] > longest:
            left_out.append(index)
        else:
            demand[taken] = demand.get(taken, 0) + 1
    sizes = sorted(demand, key=lambda s: (str(s[1]), -s[0]))
    counts = [demand[s] for s in sizes]
    columns, costs, owners = [], [], []
    for number, (stock, capacity) in enumerate(zip(job["stocks"], capacities)):
        cost = 0 if stock["on_hand"] is not None else stock["length"] if by_length else stock["price"]
        for filling in fillings(sizes, counts, capacity):
            columns.append(filling)
            costs.append(cost)
            owners.append(number)
    matrix = csr_matrix(np.array(columns).T)
    constraints = [LinearConstraint(matrix, lb=np.array(counts))]
    for number, stock in enumerate(job["stocks"]):
        if stock["on_hand"] is not None:
            row = csr_matrix([[float(owner == number) for owner in owners]])
            constraints.append(LinearConstraint(row, ub=stock["on_hand"]))
    scale = max(costs) or 1
    result = milp(
        np.array(costs) / scale,
        constraints=constraints,
        integrality=np.ones(len(costs)),
        bounds=Bounds(lb=0),
        options={"mip_rel_gap": 0.0},
    )
    if result.status != 0:
        sys.exit(f"FAILED scipy: {result.message}")
    return sum(c * round(x) for c, x in zip(costs, result.x)), left_out, len(columns)


def drawn(piece, at):
    """A piece in its stick, in mm: outer edge above, inner edge below."""
    x, length, width = at / 1e6, piece["length"] / 1e6, piece["width"] / 1e6 or 1.0
    left, right = (width * math.tan(math.radians(piece[end])) for end in ("left", "right"))
    return Polygon([
        (x + max(0, -left), width), (x + length - max(0, -right), width),
        (x + length - max(0, right), 0), (x + max(0, left), 0),
    ])


def check_sticks(job, name):
    trim, kerf = job["trim"] / 1e6, job["kerf"] / 1e6
    seen = list(job["unplaced"])
    for stick in job["sticks"]:
        length = job["stocks"][stick["stock"]]["length"] / 1e6
        shapes = [drawn(job["pieces"][p["piece"]], p["at"]) for p in stick["pieces"]]
        seen += [p["piece"] for p in stick["pieces"]]
        for shape in shapes:
            low, _, high, _ = shape.bounds
            if low < trim - TOLERANCE or high > length - trim + TOLERANCE:
                sys.exit(f"FAILED {name}: a piece from {low} to {high} in a stick of {length}")
        for i, shape in enumerate(shapes):
            for other in shapes[i + 1:]:
                if shape.distance(other) < kerf - TOLERANCE or shape.intersection(other).area > TOLERANCE:
                    sys.exit(f"FAILED {name}: two pieces {shape.distance(other)} apart, the kerf is {kerf}")
        if max(s.bounds[2] for s in shapes) + stick["offcut"] / 1e6 > length + TOLERANCE:
            sys.exit(f"FAILED {name}: an offcut of {stick['offcut']} is not left")
    if sorted(seen) != list(range(len(job["pieces"]))):
        sys.exit(f"FAILED {name}: pieces cut {sorted(seen)}")


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    jobs = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    total = 0
    for number, job in enumerate(jobs):
        name = f"job {number}"
        cost, left_out, columns = least_cost(job)
        total += columns
        if left_out != job["unplaced"]:
            sys.exit(f"FAILED {name}: {job['unplaced']} left out, not {left_out}")
        if job["cost"] != cost or job["lower_bound"] > cost:
            sys.exit(f"FAILED {name}: cost {job['cost']}, bound {job['lower_bound']}; the least is {cost}")
        check_sticks(job, name)
    print(f"OK {len(jobs)} jobs, {total} fillings")


if __name__ == "__main__":
    main()
