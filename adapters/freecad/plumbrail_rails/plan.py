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
    flats, slopes, texts = [], [], []
    for thing in objects:
        layer = role(thing)
        if hasattr(thing, "LabelText") or isinstance(getattr(thing, "Text", None), list):
            texts.append(thing)
        elif layer == "STAIR" and is_sloping(thing):
            slopes += placed(thing).Edges
        else:
            flats.append((layer, *flat(thing)))
    heights = [height for layer, chains, height in flats if layer == EDGE and chains]
    if not heights:
        raise Trouble(
            "nothing that is selected is a deck edge\n"
            "  hint: select a sketch, wire or face that shows the outline of the deck; objects with WALL, POST, OPENING, "
            "STAIR or KEEP in their label are no deck edge"
        )
    height = heights[0]
    if max(heights) - min(heights) > NEAR:
        raise Trouble("the deck edges lie at different heights\n  hint: lay out each deck by itself")
    records = [tag for layer, chains, _ in flats for chain in chains for tag in chain_records(chain, layer)]
    records += [tag for edge in slopes for tag in slope(edge, height)]
    records += [tag for thing in texts for tag in text(thing)]
    head = ["0", "SECTION", "2", "HEADER", "9", "$ACADVER", "1", "AC1009", "0", "ENDSEC"]
    lines = head + ["0", "SECTION", "2", "ENTITIES"] + records + ["0", "ENDSEC", "0", "EOF", ""]
    return "\r\n".join(lines).encode("ascii"), height


def placed(thing):
    """The shape where it stands in the document, whatever it is part of."""
    shape = getattr(thing, "Shape", None)
    if shape is None or shape.isNull():
        raise Trouble(f"{thing.Label} has no shape\n  hint: select sketches, wires, lines or faces")
    shape = shape.copy()
    shape.Placement = thing.getGlobalPlacement()
    return shape


def is_sloping(thing):
    """Whether it is lines in space: a stair as lines from its top nosing to its bottom one."""
    shape = placed(thing)
    return not shape.Faces and shape.BoundBox.ZLength > NEAR


def flat(thing):
    """Chains of edges that lie level, and their height. Of a solid it is the foot that counts."""
    shape = placed(thing)
    if not shape.Edges:
        return [vertex.Point for vertex in shape.Vertexes], shape.BoundBox.ZMin
    foot = shape.BoundBox.ZMin
    edges = [e for e in shape.Edges if e.Length > NEAR]
    level = [e for e in edges if e.BoundBox.ZMax - foot < NEAR]
    # An edge must not be left out in silence.
    if not level or (len(level) < len(edges) and not shape.Solids):
        raise Trouble(f"{thing.Label} does not lie level\n  hint: draw the plan in the XY plane or parallel to it")
    return Part.sortEdges(level), foot


def slope(edge, height):
    """A straight line in space; heights are above the deck."""
    if len(edge.Vertexes) != 2 or not isinstance(edge.Curve, (Part.Line, Part.LineSegment)):
        raise Trouble("a stair that is drawn in space must be of straight lines")
    start, end = (vertex.Point for vertex in edge.Vertexes)
    ends = ["10", number(start.x), "20", number(start.y), "30", number(start.z - height)]
    ends += ["11", number(end.x), "21", number(end.y), "31", number(end.z - height)]
    return ["0", "LINE", "8", "STAIR", *ends]


def text(thing):
    """A text beside a stair, such as `11R 190 x 250`."""
    at = thing.Position if hasattr(thing, "LabelText") else thing.getGlobalPlacement().Base
    words = " ".join(getattr(thing, "LabelText", None) or thing.Text)
    # A text of DXF is one line; characters beyond ASCII have a code of their own in R12.
    words = "".join(c if " " <= c <= "~" else f"\\U+{ord(c):04X}" for c in words)
    return ["0", "TEXT", "8", "STAIR", *xy(at), "40", "50", "1", words]


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
    edges = [simple(edge) for edge in chain]
    out = []
    for i, parts in enumerate(edges):
        start, end = parts[0][0], parts[-1][2]
        if i > 0:
            last = out[-1][2]
            is_turned = last.distanceToPoint(start) > last.distanceToPoint(end)
        else:
            following = [p for part in edges[1:2] for p in (part[0][0], part[-1][2])]
            is_turned = bool(following) and gap(end, following) > gap(start, following)
        out += [(e, m, s) for s, m, e in reversed(parts)] if is_turned else parts
    return out


def gap(point, others):
    return min(point.distanceToPoint(other) for other in others)


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
