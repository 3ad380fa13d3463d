"""The demo drawing: a deck plan such as a designer would draw it in a general CAD program. Invented throughout."""

import ezdxf
from ezdxf.enums import TextEntityAlignment as Align

# The house's outer face is y = 0, the deck lies below it. Inches.
EDGE = [(0, 0), (0, -120), (96, -120), (96, -168), (240, -168), (288, -120), (288, 0)]
STAIR = (144, 192, -168, -208)  # left, right, top, foot: 48 in wide, four treads of 10 in
LABEL = (168, 232, -72, -44)  # left, right, low, high of the place kept free for the label
INSET = 4
MITRE = INSET * (2**0.5 - 1)  # how far the rail line's vertex at a 135 degree corner lies from the edge's, along the edge

LAYERS = [  # name, colour index, pen in 1/100 mm, linetype
    ("A-WALL", 7, 50, "CONTINUOUS"),
    ("A-DOOR", 3, 25, "CONTINUOUS"),
    ("A-GLAZ", 4, 18, "CONTINUOUS"),
    ("A-FURN", 9, 13, "CONTINUOUS"),
    ("A-DECK-EDGE", 1, 35, "CONTINUOUS"),
    ("A-DECK-POST", 5, 35, "CONTINUOUS"),
    ("A-DECK-PATT", 9, 9, "CONTINUOUS"),
    ("A-FLOR-STRS", 2, 25, "CONTINUOUS"),
    ("S-JOIST", 8, 13, "DASHED"),
    ("S-BEAM", 8, 25, "DASHED"),
    ("A-ANNO-DIMS", 8, 13, "CONTINUOUS"),
    ("A-ANNO-TEXT", 7, 18, "CONTINUOUS"),
    ("A-ANNO-SYMB", 7, 18, "CONTINUOUS"),
    ("A-ANNO-TTLB", 7, 35, "CONTINUOUS"),
]


def draw():
    """The whole drawing."""
    doc = ezdxf.new("R2010", units=1)
    doc.header["$MEASUREMENT"] = 0
    doc.header["$LTSCALE"] = 12
    doc.linetypes.add("DASHED", [0.75, 0.5, -0.25], description="Dashed __ __ __ __")
    doc.styles.add("PLAN", font="txt")
    for name, colour, pen, linetype in LAYERS:
        doc.layers.add(name, color=colour, lineweight=pen, linetype=linetype)
    dimstyle(doc)
    msp = doc.modelspace()
    house(msp)
    deck(doc, msp)
    framing(msp)
    stair(msp)
    dimensions(msp)
    notes(doc, msp)
    sheet(doc)
    doc.set_modelspace_vport(height=360, center=(240, -84))  # how it opens
    msp.reset_extents((-60, -248, 0), (550, 72, 0))
    return doc


def line(space, layer, *points):
    for a, b in zip(points, points[1:]):
        space.add_line(a, b, {"layer": layer})


def outline(space, layer, points):
    return space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def text(space, at, content, height, layer="A-ANNO-TEXT", align=Align.LEFT, rotation=0):
    attribs = {"layer": layer, "style": "PLAN", "rotation": rotation}
    space.add_text(content, height=height, dxfattribs=attribs).set_placement(at, align=align)


def dimstyle(doc):
    """Architectural ticks and 1/8 in texts at a scale of 1/4 in to the foot."""
    style = doc.dimstyles.new("DECK-48")
    style.dxf.dimtxsty = "PLAN"
    style.dxf.dimtxt, style.dxf.dimexo, style.dxf.dimexe, style.dxf.dimgap = 5, 3, 3, 2
    style.dxf.dimtsz, style.dxf.dimtad, style.dxf.dimlunit, style.dxf.dimtih = 3, 1, 4, 0
    style.dxf.dimclrd = style.dxf.dimclre = 8


def house(msp):
    """The wall of the house with its two returns, a sliding door and a window."""
    wall = [(-60, 0), (348, 0), (348, 72), (342, 72), (342, 6), (-54, 6), (-54, 72), (-60, 72)]
    outline(msp, "A-WALL", wall)
    outline(msp, "A-DOOR", [(108, 0), (180, 0), (180, 6), (108, 6)])
    line(msp, "A-DOOR", (108, 2), (148, 2), (148, 4), (180, 4))
    line(msp, "A-DOOR", (140, 2), (140, 4), (148, 4))
    outline(msp, "A-GLAZ", [(222, 0), (270, 0), (270, 6), (222, 6)])
    line(msp, "A-GLAZ", (222, 3), (270, 3))
    text(msp, (144, 36), "LIVING ROOM", 8, align=Align.MIDDLE_CENTER)


def deck(doc, msp):
    """Outline, boards, the posts that the designer has set, a table."""
    outline(msp, "A-DECK-EDGE", EDGE)
    boards = msp.add_hatch(color=256, dxfattribs={"layer": "A-DECK-PATT"})
    boards.set_pattern_fill("LINE", color=256, scale=44, style=0)  # 44 x 1/8 in: boards of 5-1/2 in
    boards.paths.add_polyline_path(EDGE, is_closed=True)
    left, right, low, high = LABEL
    boards.paths.add_polyline_path([(left, low), (right, low), (right, high), (left, high)], is_closed=True, flags=16)
    post = doc.blocks.new("POST")
    outline(post, "0", [(-2.25, -2.25), (2.25, -2.25), (2.25, 2.25), (-2.25, 2.25)])
    at = {"layer": "A-DECK-POST"}
    msp.add_blockref("POST", (4, -116), at)
    msp.add_blockref("POST", (288 - INSET, -120 + MITRE), at | {"rotation": 22.5})
    outline(msp, "A-DECK-POST", [(97.75, -118.25), (102.25, -118.25), (102.25, -113.75), (97.75, -113.75)])
    msp.add_circle((52, -58), 20, {"layer": "A-FURN"})
    for x, y in [(52, -28), (52, -88), (22, -58), (82, -58)]:
        outline(msp, "A-FURN", [(x - 8, y - 8), (x + 8, y - 8), (x + 8, y + 8), (x - 8, y + 8)])


def framing(msp):
    """Joists at 16 in and the beam under them."""
    for x in range(16, 288, 16):
        foot = -120 if x <= 96 else -168 if x <= 240 else -168 + (x - 240)
        if LABEL[0] < x < LABEL[1]:
            line(msp, "S-JOIST", (x, 0), (x, LABEL[3]))
            line(msp, "S-JOIST", (x, LABEL[2]), (x, foot))
        else:
            line(msp, "S-JOIST", (x, 0), (x, foot))
    for y in (-104, -101):
        line(msp, "S-BEAM", (0, y), (288, y))


def stair(msp):
    left, right, top, foot = STAIR
    outline(msp, "A-FLOR-STRS", [(left, top), (right, top), (right, foot), (left, foot)])
    for y in range(top - 10, foot, -10):
        line(msp, "A-FLOR-STRS", (left, y), (right, y))
    middle = (left + right) / 2
    line(msp, "A-ANNO-SYMB", (middle, top - 5), (middle, foot + 9))
    msp.add_solid([(middle - 2, foot + 9), (middle + 2, foot + 9), (middle, foot + 4)], {"layer": "A-ANNO-SYMB"})
    # On the stair's layer: the rail layout reads it.
    text(msp, (middle, foot - 8), "DN 5R 7-1/2 x 10", 4, "A-FLOR-STRS", Align.MIDDLE_CENTER)


def dimensions(msp):
    def dim(p1, p2, base, label, angle):
        entity = msp.add_linear_dim(base, p1, p2, angle=angle, text=label, dimstyle="DECK-48",
                                    dxfattribs={"layer": "A-ANNO-DIMS"})
        entity.render()

    row = (0, -232)
    dim((0, -120), (96, -168), row, "8'-0\"", 0)
    dim((96, -168), (144, -208), row, "4'-0\"", 0)
    dim((144, -208), (192, -208), row, "4'-0\"", 0)
    dim((192, -208), (240, -168), row, "4'-0\"", 0)
    dim((240, -168), (288, -120), row, "4'-0\"", 0)
    dim((0, -120), (288, -120), (0, -248), "24'-0\"", 0)
    dim((288, 0), (288, -120), (312, 0), "10'-0\"", 90)
    dim((288, -120), (240, -168), (312, 0), "4'-0\"", 90)
    dim((288, 0), (240, -168), (328, 0), "14'-0\"", 90)
    dim((0, 0), (0, -120), (-24, 0), "10'-0\"", 90)


def notes(doc, msp):
    general = ("GENERAL NOTES\\P1. DECK SURFACE 37-1/2 IN ABOVE GRADE.\\P2. GUARD RAIL AT ALL OPEN EDGES,\\P"
               "    POST CENTRES 4 IN INSIDE THE EDGE.\\P3. POSTS SHOWN ARE FIXED BY THE FRAMING;\\P"
               "    ALL OTHERS BY THE RAIL LAYOUT.\\P4. JOISTS 2 x 10 AT 16 IN O.C.")
    msp.add_mtext(general, {"layer": "A-ANNO-TEXT", "style": "PLAN", "char_height": 5, "insert": (360, -20),
                            "width": 190, "attachment_point": 1})
    text(msp, (200, -52), "DECK", 8, align=Align.MIDDLE_CENTER)
    text(msp, (200, -65), "BOARDS 5-1/2 IN", 5, align=Align.MIDDLE_CENTER)
    arrow = doc.blocks.new("NORTH-ARROW")
    arrow.add_circle((0, 0), 12, {"layer": "0"})
    arrow.add_solid([(-4, -10), (0, -6), (0, 12)], {"layer": "0"})
    line(arrow, "0", (0, 12), (4, -10), (0, -6))
    text(arrow, (0, 15), "N", 7, layer="0", align=Align.BOTTOM_CENTER)
    msp.add_blockref("NORTH-ARROW", (372, -180), {"layer": "A-ANNO-SYMB", "rotation": 30})


def sheet(doc):
    """Title block and a viewport in paper space: 17 x 11 in, 1/4 in to the foot."""
    page = doc.layouts.get("Layout1")
    doc.layouts.rename("Layout1", "DECK PLAN")
    page.page_setup(size=(17, 11), margins=(0, 0, 0, 0), units="inch")
    layer = "A-ANNO-TTLB"
    outline(page, layer, [(0.5, 0.5), (16.5, 0.5), (16.5, 10.5), (0.5, 10.5)])
    line(page, layer, (0.5, 1.5), (16.5, 1.5))
    line(page, layer, (10, 0.5), (10, 1.5))
    line(page, layer, (14.5, 0.5), (14.5, 1.5))
    text(page, (0.8, 1.05), "LAKESIDE DECK", 0.25, layer)
    text(page, (0.8, 0.7), "INVENTED EXAMPLE, NOT FOR CONSTRUCTION", 0.125, layer)
    text(page, (10.2, 1.05), "DECK PLAN", 0.1875, layer)
    text(page, (10.2, 0.7), "SCALE 1/4\" = 1'-0\"", 0.125, layer)
    text(page, (14.7, 0.85), "A1", 0.375, layer)
    page.add_viewport(center=(8.5, 6), size=(15.5, 8.5), view_center_point=(240, -84), view_height=8.5 * 48)
