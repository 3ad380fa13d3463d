# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
"""Drawn objects -> a deck plan as DXF (R12, millimetres, seen from above)."""

import math

import FreeCAD
import Part

from plumbrail_call import Trouble

# A word in the label of an object, or of a group or layer that holds it, says what it is; all else is deck edge.
ROLES = (
    ("WALL", "WALL"),
    ("HOUSE", "WALL"),
    ("OPENING", "OPENING"),
    ("GATE", "OPENING"),
    ("POST", "POST"),
    ("STAIR", "STAIR"),
    ("KEEP", "KEEP-OUT"),
)
EDGE = "DECK-EDGE"

# Distances below this are none, mm.
NEAR = 1e-4
# A curve that is no arc becomes arcs within this, mm.
CURVE = 0.1


def role(thing):
    """Layer of an object."""
    labels = [thing.Label] + [holder.Label for holder in thing.InList if holds(holder, thing)]
    for label in labels:
        for word, layer in ROLES:
            if word in label.upper():
                return layer
    return EDGE


def holds(holder, thing):
    """Whether it is a group or a Draft layer with the object in it."""
    return thing in getattr(holder, "Group", [])


def drawing(objects):
    """The plan of these objects as bytes, and the height at which its deck edges lie, mm."""
    records, height = [], None
    for thing in objects:
        layer = role(thing)
        chains, z = flat(thing)
        if layer == EDGE and chains:
            if height is not None and abs(height - z) > NEAR:
                raise Trouble("the deck edges lie at different heights; lay out each deck by itself")
            height = z
        for chain in chains:
            records += chain_records(chain, layer)
    if height is None:
        raise Trouble(
            "nothing that is selected is a deck edge\n"
            "  hint: select a sketch, wire or face that shows the outline of the deck; objects with WALL, POST, OPENING, "
            "STAIR or KEEP in their label are no deck edge"
        )
    head = ["0", "SECTION", "2", "HEADER", "9", "$ACADVER", "1", "AC1009", "0", "ENDSEC"]
    lines = head + ["0", "SECTION", "2", "ENTITIES"] + records + ["0", "ENDSEC", "0", "EOF", ""]
    return "\r\n".join(lines).encode("ascii"), height


def flat(thing):
    """Chains of edges that lie level at the foot of the object, and their height."""
    shape = getattr(thing, "Shape", None)
    if shape is None or shape.isNull():
        raise Trouble(f"{thing.Label} has no shape; select sketches, wires, lines or faces")
    shape = shape.copy()
    shape.Placement = thing.getGlobalPlacement()
    if not shape.Edges:
        points = [v.Point for v in shape.Vertexes]
        return [point for point in points], min((p.z for p in points), default=0.0)
    foot = shape.BoundBox.ZMin
    edges = [e for e in shape.Edges if e.Length > NEAR and e.BoundBox.ZMax - foot < NEAR]
    if not edges:
        raise Trouble(f"{thing.Label} does not lie level\n  hint: draw the plan in the XY plane")
    return Part.sortEdges(edges), foot


def chain_records(chain, layer):
    """A point, or edges that follow each other."""
    if isinstance(chain, FreeCAD.Vector):
        return ["0", "POINT", "8", layer, *xy(chain)]
    if len(chain) == 1 and isinstance(chain[0].Curve, Part.Circle) and chain[0].isClosed():
        circle = chain[0].Curve
        return ["0", "CIRCLE", "8", layer, *xy(circle.Center), "40", number(circle.Radius)]
    points, bulges = [], []
    for start, middle, end in pieces(chain):
        if not points:
            points.append(start)
        points.append(end)
        bulges.append(bulge(start, middle, end))
    is_closed = len(points) > 2 and points[0].distanceToPoint(points[-1]) < NEAR
    if is_closed:
        points.pop()
    else:
        bulges.append(0.0)
    out = ["0", "POLYLINE", "8", layer, "66", "1", "70", "1" if is_closed else "0"]
    for point, b in zip(points, bulges):
        out += ["0", "VERTEX", "8", layer, *xy(point)]
        if b != 0.0:
            out += ["42", number(b)]
    return out + ["0", "SEQEND", "8", layer]


def pieces(chain):
    """Start, middle (none of a straight one) and end of each line or arc, one after the other."""
    parts = [part for edge in chain for part in simple(edge)]
    ordered = []
    for i, (start, middle, end) in enumerate(parts):
        if i == 0:
            turned = len(parts) > 1 and min(start.distanceToPoint(p) for p in parts[1][::2]) < NEAR
            turned = turned and min(end.distanceToPoint(p) for p in parts[1][::2]) >= NEAR
        else:
            turned = ordered[-1][2].distanceToPoint(start) > ordered[-1][2].distanceToPoint(end)
        ordered.append((end, middle, start) if turned else (start, middle, end))
    return ordered


def simple(edge):
    """Lines and arcs as they are, other curves as arcs near them; in the direction of the edge."""
    first, last = edge.ParameterRange
    if isinstance(edge.Curve, (Part.Line, Part.LineSegment)):
        return [(edge.valueAt(first), None, edge.valueAt(last))]
    if isinstance(edge.Curve, Part.Circle):
        # Halves, since an arc of more than half a turn has a poor bulge.
        middle = (first + last) / 2
        halves = ((first, middle), (middle, last))
        return [(edge.valueAt(a), edge.valueAt((a + b) / 2), edge.valueAt(b)) for a, b in halves]
    arcs = edge.toNurbs().Edges[0].Curve.toBiArcs(CURVE)
    out = []
    for arc in arcs:
        start, end = arc.StartPoint, arc.EndPoint
        is_arc = hasattr(arc, "Radius")
        out.append((start, arc.value((arc.FirstParameter + arc.LastParameter) / 2) if is_arc else None, end))
    return out


def bulge(start, middle, end):
    """Tangent of a quarter of the arc's angle, positive to the left turning (DXF group 42)."""
    if middle is None:
        return 0.0
    chord, across = end - start, middle - start
    return -2 * (chord.x * across.y - chord.y * across.x) / (chord.x**2 + chord.y**2)


def xy(point):
    return ["10", number(point.x), "20", number(point.y)]


def number(value):
    if not math.isfinite(value):
        raise Trouble("a coordinate is not a number")
    return f"{value:.9f}"
