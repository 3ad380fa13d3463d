"""Writes fixtures/<case>/plan.dxf and README.md, the same bytes at every run: python make_fixtures.py [FOLDER]

Each case is one function; its docstring becomes the README. Everything drawn is invented.
"""

import logging
import math
import os
import pathlib
import sys

import ezdxf

import infill_decks
import lakeside

ezdxf.options.write_fixed_meta_data_for_testing = True
logging.getLogger("ezdxf").setLevel(logging.ERROR)  # it warns that R12 has no $INSUNITS: that is what the case shows


def new(version="R2000", units=1):
    """An empty drawing; units is the $INSUNITS code: 0 none, 1 inches, 4 millimetres."""
    doc = ezdxf.new(version, units=units)
    doc.header["$MEASUREMENT"] = 1 if units == 4 else 0
    return doc, doc.modelspace()


def on(doc, layer):
    """Attributes that put an entity on a layer, which is made at its first use."""
    if layer not in doc.layers:
        doc.layers.add(layer)
    return {"layer": layer}


def path(doc, layer, points, closed=False, space=None, fmt="xy"):
    space = doc.modelspace() if space is None else space
    space.add_lwpolyline(points, format=fmt, close=closed, dxfattribs=on(doc, layer))


def box(doc, layer, left, low, right, high, space=None):
    path(doc, layer, [(left, low), (right, low), (right, high), (left, high)], closed=True, space=space)


def deck_and_wall(doc, width, depth, edge="A-DECK-EDGE", wall="A-WALL", thick=6):
    """A plain deck below a house wall whose face is y = depth."""
    box(doc, edge, 0, 0, width, depth)
    box(doc, wall, -4 * thick, depth, width + 4 * thick, depth + thick)


def move(points, by):
    return [(x + by[0], y + by[1]) for x, y in points]


L_SHAPE = [(0, 0), (240, 0), (240, 120), (120, 120), (120, 240), (0, 240)]


def lakeside_plan():
    """The demo: a whole deck plan with house, stair, two corners of 135 degrees, a jog, some posts drawn, and everything that
    must be left alone (framing, boards, dimensions, notes, a sheet in paper space). Inches, R2010."""
    return lakeside.draw()


def l_shape():
    """Closed outline with one inner corner and no wall: the guard runs all around. Inches."""
    doc, _ = new()
    path(doc, "A-DECK-EDGE", L_SHAPE, closed=True)
    return doc


def z_open():
    """Open edge from wall to wall; the walls that both its ends touch tell on which side the deck lies. Inches."""
    doc, _ = new()
    path(doc, "DECK_EDGE", [(0, 0), (120, 0), (120, 60), (240, 60)])
    path(doc, "HOUSE", [(0, 0), (0, 156), (240, 156), (240, 60)])
    return doc


def corner_135():
    """One corner of 135 degrees: its post turns so that both rails meet it at 22.5 degrees. Inches."""
    doc, _ = new()
    path(doc, "A-DECK-EDGE", [(0, 0), (80, 0), (134, 54)])
    path(doc, "A-WALL", [(0, 0), (0, 120), (134, 120), (134, 54)])
    return doc


def wall_to_wall():
    """One straight edge between two wall faces: a single panel, wall brackets at both ends, no post. Inches."""
    doc, msp = new()
    msp.add_line((0, 0), (80, 0), on(doc, "Deck edge"))
    path(doc, "WALL", [(-6, 0), (0, 0), (0, 96), (80, 96), (80, 0), (86, 0), (86, 102), (-6, 102)], closed=True)
    return doc


def drawn_posts():
    """Posts drawn in each way that is read: block with attributes, point, circle, square; one stands 1/2 in off the
    rail line (taken, and said), one stands in the middle of the deck (left out, and said). Inches."""
    doc, msp = new()
    deck_and_wall(doc, 240, 120)
    post = doc.blocks.new("POST")
    box(doc, "0", -2.25, -2.25, 2.25, 2.25, space=post)
    post.add_attdef("MARK", (4, 4), dxfattribs={"height": 3})
    post.add_attdef("SIZE", (4, 8), dxfattribs={"height": 3})
    for mark, at in [("A", (4, 4)), ("F", (120, 60))]:
        insert = msp.add_blockref("POST", at, on(doc, "A-DECK-POST"))
        insert.add_auto_attribs({"MARK": mark, "SIZE": "4-1/2"})
    msp.add_point((81, 4), on(doc, "A-DECK-POST"))
    msp.add_circle((160, 4), 2.25, on(doc, "A-DECK-POST"))
    box(doc, "A-DECK-POST", 233.75, 1.75, 238.25, 6.25)
    box(doc, "A-DECK-POST", 234.25, 59.75, 238.75, 64.25)
    return doc


def loose_lines():
    """Outline of loose lines: corners gape by 0.01 in, one line is drawn backwards, one twice. Inches."""
    doc, msp = new()
    lines = [((0, 0), (191.99, 0)), ((192, 144), (192, 0)), ((191.99, 144), (0, 144)), ((0, 143.99), (0, 0.01))]
    for a, b in lines + lines[:1]:
        msp.add_line(a, b, on(doc, "Deck edge"))
    box(doc, "House wall", -24, 144, 216, 150)
    return doc


def metric():
    """Drawn in millimetres, $INSUNITS 4: marks are whole millimetres."""
    doc, _ = new(units=4)
    deck_and_wall(doc, 6000, 3600, edge="Deck edge", wall="House", thick=150)
    return doc


def unitless():
    """$INSUNITS 0: refused until --units says what one unit is. Good with `--units in`."""
    doc, _ = new(units=0)
    deck_and_wall(doc, 240, 144)
    return doc


def r12():
    """AC1009: POLYLINE with VERTEX and SEQEND, no owners, no subclass markers. This version knows no $INSUNITS, so it
    needs --units; drawn in inches."""
    doc, msp = new("R12", units=0)
    msp.add_polyline2d([(0, 0), (240, 0), (240, 120), (0, 120)], close=True, dxfattribs=on(doc, "DECK_EDGE"))
    wall = [(-24, 120), (264, 120), (264, 126), (-24, 126)]
    msp.add_polyline2d(wall, close=True, dxfattribs=on(doc, "WALL"))
    return doc


def binary():
    """Binary DXF, R2000. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    return doc


def nested_blocks():
    """The deck lies in a block in a block, drawn in feet: scaled by 12 and mirrored inside, turned by 30 degrees
    outside. The wall is on layer 0 of the inner block and gets its layer from the insert. Inches."""
    doc, msp = new()
    inner, outer = doc.blocks.new("DECK"), doc.blocks.new("SITE")
    box(doc, "DECK_EDGE", 0, 0, 20, 12, space=inner)
    box(doc, "0", -2, 12, 22, 12.5, space=inner)
    outer.add_blockref("DECK", (300, 60), on(doc, "HOUSE") | {"xscale": -12, "yscale": 12, "zscale": 12})
    msp.add_blockref("SITE", (500, -200), {"rotation": 30})
    return doc


def wrong_layers():
    """A good deck, but no layer name says which lines are the edge: nothing is guessed. Good with
    `--layer edge=OUTLINE --layer wall=BUILDING`. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144, edge="OUTLINE", wall="BUILDING")
    return doc


def opening():
    """Two gates: a line along the bottom edge and a box across the right one, each 36 in of edge that stays free.
    Inches."""
    doc, msp = new()
    deck_and_wall(doc, 240, 144)
    msp.add_line((96, 0), (132, 0), on(doc, "GATE"))
    box(doc, "A-DECK-OPENING", 236, 48, 244, 84)
    return doc


def curved():
    """One edge is an arc (a half circle of 72 in radius, bulge 1) that touches the sides beside it: the rail line keeps it
    as an arc of 68 in, divided into six straight panels, with a post where arc and sides touch. Inches."""
    doc, _ = new()
    path(doc, "A-DECK-EDGE", [(0, 0, 0), (144, 0, 0), (144, 96, 1), (0, 96, 0)], closed=True, fmt="xyb")
    box(doc, "A-WALL", -24, -6, 168, 0)
    return doc


def far_away():
    """The l-shape deck at survey coordinates around a million: the same panels, to the last digit. Inches."""
    doc, _ = new()
    path(doc, "A-DECK-EDGE", move(L_SHAPE, (1204800, 987600)), closed=True)
    return doc


def double_wall():
    """The wall is two parallel lines, its faces, and not an outline. Inches."""
    doc, msp = new()
    box(doc, "A-DECK-EDGE", 0, 0, 240, 144)
    for y in (144, 150):
        msp.add_line((-24, y), (264, y), on(doc, "A-WALL"))
    return doc


def hot_tub():
    """A second closed outline within the first: a hole in the deck, which needs its own guard. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 168)
    box(doc, "A-DECK-EDGE", 84, 48, 168, 120)
    return doc


def deck_drawing():
    """The deck of the case xref: its own file, in millimetres, with a second deck that nobody shows."""
    doc, msp = new(units=4)
    box(doc, "A-DECK-EDGE", 0, 0, 6096, 3657.6)
    msp.add_circle((1000, 1000), 300, on(doc, "A-FURN"))
    return doc


def xref():
    """The deck is in a file of its own, deck.dxf, which the plan only refers to, by a path of another machine. The plan is
    in inches and the deck in millimetres; the reference is placed at the scale that makes up for it, 1/25.4. Inches."""
    doc, msp = new()
    box(doc, "A-WALL", -24, 144, 264, 150)
    block = doc.blocks.new("deck")
    block.block.dxf.flags = 4
    block.block.dxf.xref_path = "C:\\jobs\\12\\deck.dwg"
    scale = {"xscale": 1 / 25.4, "yscale": 1 / 25.4, "zscale": 1 / 25.4}
    msp.add_blockref("deck", (0, 0), on(doc, "X-PLAN") | scale)
    # As CAD programs list the layers of references: this one decides whether the deck shows.
    doc.layers.add("deck|A-DECK-EDGE", color=3)
    return doc


def attribute_posts():
    """Posts whose size stands in an attribute: one without geometry of its own, one whose square says another size (the
    attribute wins, and that is said), one whose attribute is the name of a timber (not a measure: the square counts, and
    that is said), and one with foreign XDATA. Inches."""
    doc, msp = new()
    deck_and_wall(doc, 240, 120)
    doc.appids.add("OTHER_APP")
    for name, side in [("MARK-ONLY", None), ("POST", 4)]:
        block = doc.blocks.new(name)
        if side:
            box(doc, "0", -side / 2, -side / 2, side / 2, side / 2, space=block)
        block.add_attdef("SIZE", (4, 4), dxfattribs={"height": 3})
    for name, at, size in [("MARK-ONLY", (4, 4), '5"'), ("POST", (81, 4), "90mm"), ("POST", (158, 4), "4x4")]:
        insert = msp.add_blockref(name, at, on(doc, "A-DECK-POST"))
        insert.add_auto_attribs({"SIZE": size})
    last = msp.add_blockref("POST", (236, 4), on(doc, "A-DECK-POST"))
    last.set_xdata("OTHER_APP", [(1000, "checked"), (1040, 4.0)])
    return doc


def circle():
    """A round deck: one CIRCLE of 124 in radius. The run closes on itself with fifteen equal panels. Inches."""
    doc, msp = new()
    msp.add_circle((300, 200), 124, on(doc, "A-DECK-EDGE"))
    return doc


def rounded():
    """Loose lines and ARCs: a corner rounded with 48 in that touches both its edges, and an edge bowed inward that
    meets its neighbours in corners. A gate takes its part of the bow. Inches."""
    doc, msp = new()
    edge = on(doc, "A-DECK-EDGE")
    msp.add_line((0, 144), (0, 48), edge)
    msp.add_arc((48, 48), 48, 180, 270, dxfattribs=edge)
    msp.add_line((48, 0), (120, 0), edge)
    msp.add_arc((210, -120), 150, 53.13010235415598, 126.86989764584402, dxfattribs=edge)
    msp.add_line((300, 0), (300, 144), edge)
    box(doc, "A-WALL", -24, 144, 324, 150)
    box(doc, "GATE", 192, 24, 228, 36)
    return doc


def spline():
    """One edge is a SPLINE and one half of an ELLIPSE: both are laid out by arcs within half a millimetre, which is
    said. Inches."""
    doc, msp = new()
    edge = on(doc, "A-DECK-EDGE")
    msp.add_spline(dxfattribs=edge, degree=3).set_open_uniform([(0, 120), (-40, 60), (60, 0), (150, 0)])
    msp.add_ellipse((150, 60), major_axis=(0, 60), ratio=0.75, start_param=3.141592653589793,
                    end_param=6.283185307179586, dxfattribs=edge)
    msp.add_line((150, 120), (0, 120), edge)
    return doc


def touching_boxes():
    """The deck in two outlines that share an edge, one shorter than the other: the shared stretch lies inside the deck
    and gets no guard; one run goes around both. Inches."""
    doc, _ = new()
    box(doc, "A-DECK-EDGE", 0, 0, 120, 96)
    box(doc, "A-DECK-EDGE", 120, 0, 240, 60)
    return doc


def neck():
    """Two parts joined by a neck of 6 in, narrower than twice the inset: the rail line goes straight past it on both
    sides, which is said. Inches."""
    doc, _ = new()
    left, right = [(0, 0), (120, 0), (120, 45)], [(150, 45), (150, 0), (270, 0)]
    points = left + right + [(270, 96), (150, 96), (150, 51), (120, 51), (120, 96), (0, 96)]
    path(doc, "A-DECK-EDGE", points, closed=True)
    return doc


STAIR = "A-FLOR-STRS"


def lines(doc, points, z=None):
    """One LINE on the stair layer for each pair of points; z is a height for each of them."""
    for i, (a, b) in enumerate(points):
        height = () if z is None else (z[i],)
        doc.modelspace().add_line(a + height, b + height, on(doc, STAIR))


def treads(doc, left, right, top, tread, count):
    """Tread lines from x left to right, downwards from y top."""
    lines(doc, [((left, top - k * tread), (right, top - k * tread)) for k in range(count)])


def say(doc, at, content, height=4):
    doc.modelspace().add_text(content, height=height, dxfattribs=on(doc, STAIR)).set_placement(at)


def arrow(doc, tail, head, word):
    """A shaft with two barbs, square to the axes, and a word at its tail."""
    (x, y), (u, v) = tail, head
    along = math.copysign(6, u - x) if u != x else 0, math.copysign(6, v - y) if v != y else 0
    path(doc, STAIR, [tail, head])
    for side in (0.5, -0.5):
        lines(doc, [(head, (u - along[0] - side * along[1], v - along[1] + side * along[0]))])
    say(doc, (x + 2, y), word)


def stair_lines():
    """A flight drawn by its tread lines, with a text beside it that gives the rise: 11 risers of 7-5/8 on treads of 10.
    The first line is one tread away from the deck edge, which is the top nosing. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    box(doc, STAIR, 96, -100, 144, 0)
    treads(doc, 96, 144, -10, 10, 10)
    say(doc, (150, -52), "11R 7-5/8 x 10")
    return doc


def stair_landing():
    """An L: five risers down to a landing, which is an outline of its own on the deck layer and 12 in wider on both sides, so
    that its posts stand beside the flights, and six more from there at a right angle. Arrows with DN tell the upper ends.
    Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    box(doc, "A-DECK-EDGE", 84, -112, 156, -40)
    treads(doc, 96, 144, 0, 10, 5)
    arrow(doc, (120, -4), (120, -36), "DN")
    say(doc, (97, -28), "5R 7-1/2")
    lines(doc, [((156 + 10 * k, -100), (156 + 10 * k, -52)) for k in range(6)])
    arrow(doc, (160, -76), (202, -76), "DN")
    say(doc, (164, -112), "6R 7-1/2 x 10")
    return doc


def stair_wall():
    """A flight along a wall: that side gets no guard, and the handrail stands before the wall. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    box(doc, "A-WALL", 240, -120, 246, 150)
    treads(doc, 192, 240, 0, 10, 8)
    say(doc, (196, -37), "8R 7-1/4 x 10")
    return doc


def stair_3d():
    """A flight as a rectangle without tread lines, and a 3D LINE along its side from the top nosing to the lowest one: 60
    in deep, it falls 45 in, so the 7 risers are of 7-1/2. The deck stands at 52-1/2 in. Inches."""
    doc, msp = new()
    deck_and_wall(doc, 240, 144)
    box(doc, STAIR, 96, -60, 144, 0)
    msp.add_line((96, -60, 7.5), (96, 0, 52.5), on(doc, STAIR))
    say(doc, (116, -32), "7R")
    return doc


def stair_block():
    """A flight as a block of tread lines whose attributes give its steps and which side is guarded. Millimetres."""
    doc, msp = new(units=4)
    deck_and_wall(doc, 6000, 3600, thick=150)
    block = doc.blocks.new("STAIR-1200")
    for k in range(9):
        block.add_line((0, -250 * k), (1200, -250 * k), {"layer": "0"})
    for i, tag in enumerate(["RISERS", "RISER", "TREAD", "NOSING", "GUARD"]):
        block.add_attdef(tag, (1300, -300 - 150 * i), dxfattribs={"height": 100})
    insert = msp.add_blockref("STAIR-1200", (2400, 0), on(doc, STAIR))
    insert.add_auto_attribs({"RISERS": "9", "RISER": "180", "TREAD": "250", "NOSING": "25", "GUARD": "left"})
    return doc


def stair_no_rise():
    """Tread lines and nothing that gives the height of a riser: an error that says how to give it. The deck edge stays
    free all the same. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    treads(doc, 96, 144, 0, 10, 6)
    return doc


def stair_steep():
    """Risers of 9-1/2 on treads of 7: steeper than the panels are made for, and than the codes allow. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    treads(doc, 96, 144, 0, 7, 6)
    say(doc, (150, -20), "6R 9-1/2 x 7")
    return doc


def stair_one_riser():
    """One step down to the ground: one riser has no slope, so no rail is laid along it. Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    treads(doc, 96, 144, 0, 10, 1)
    say(doc, (110, -8), "1R 7")
    return doc


def stair_reversed():
    """The arrow says DN towards the only deck edge that the flight touches: the edge is followed, and that is said.
    Inches."""
    doc, _ = new()
    deck_and_wall(doc, 240, 144)
    treads(doc, 96, 144, 0, 10, 8)
    arrow(doc, (120, -66), (120, -6), "DN")
    say(doc, (150, -36), "8R 7-1/4 x 10")
    return doc


CASES = {
    "lakeside": lakeside_plan,
    "l-shape": l_shape,
    "z-open": z_open,
    "corner-135": corner_135,
    "wall-to-wall": wall_to_wall,
    "drawn-posts": drawn_posts,
    "loose-lines": loose_lines,
    "metric": metric,
    "unitless": unitless,
    "r12": r12,
    "binary": binary,
    "nested-blocks": nested_blocks,
    "wrong-layers": wrong_layers,
    "opening": opening,
    "curved": curved,
    "far-away": far_away,
    "double-wall": double_wall,
    "hot-tub": hot_tub,
    "xref": xref,
    "attribute-posts": attribute_posts,
    "circle": circle,
    "rounded": rounded,
    "spline": spline,
    "touching-boxes": touching_boxes,
    "neck": neck,
    "stair-lines": stair_lines,
    "stair-landing": stair_landing,
    "stair-wall": stair_wall,
    "stair-3d": stair_3d,
    "stair-block": stair_block,
    "stair-no-rise": stair_no_rise,
    "stair-steep": stair_steep,
    "stair-one-riser": stair_one_riser,
    "stair-reversed": stair_reversed,
    **infill_decks.CASES,
}

# Further files of a case.
BESIDE = {"xref": {"deck.dxf": deck_drawing}}


def main():
    here = pathlib.Path(__file__).resolve()
    folder = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else here.parents[2] / "fixtures"
    for name, case in CASES.items():
        target = folder / name
        target.mkdir(parents=True, exist_ok=True)
        case().saveas(target / "plan.dxf", fmt="bin" if name == "binary" else "asc")
        for file, other in BESIDE.get(name, {}).items():
            other().saveas(target / file)
        words = " ".join(case.__doc__.split())
        (target / "README.md").write_text(words + "\n", encoding="utf-8")
    print(f"OK {len(CASES)} fixtures in {folder}")


if __name__ == "__main__":
    # ezdxf writes the CLASSES section in the order of a set: only a fixed hash seed gives the same bytes twice.
    if os.environ.get("PYTHONHASHSEED") != "0":
        os.execve(sys.executable, [sys.executable, *sys.argv], os.environ | {"PYTHONHASHSEED": "0"})
    main()
