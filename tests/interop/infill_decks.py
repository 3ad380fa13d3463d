"""Decks for systems without balusters, for make_fixtures.py. Everything drawn is invented; inches."""

import ezdxf


def deck(outline):
    """A deck with its edge on one layer, below a house wall along y = 144."""
    doc = ezdxf.new("R2000", units=1)
    doc.header["$MEASUREMENT"] = 0
    for layer in ("A-DECK-EDGE", "A-WALL", "A-FLOR-STRS"):
        doc.layers.add(layer)
    space = doc.modelspace()
    space.add_lwpolyline(outline, close=True, dxfattribs={"layer": "A-DECK-EDGE"})
    wall = [(-24, 144), (264, 144), (264, 150), (-24, 150)]
    space.add_lwpolyline(wall, close=True, dxfattribs={"layer": "A-WALL"})
    return doc


def cable():
    """Horizontal cables (system cable-36): spans over 48 in get a slat, and on the flight of 8 risers the cables run along
    the slope. Inches."""
    doc = deck([(0, 0), (240, 0), (240, 144), (0, 144)])
    space = doc.modelspace()
    for k in range(8):
        space.add_line((96, -10 * k), (144, -10 * k), dxfattribs={"layer": "A-FLOR-STRS"})
    text = space.add_text("8R 7-1/4 x 10", height=4, dxfattribs={"layer": "A-FLOR-STRS"})
    text.set_placement((100, -37))
    return doc


def framed():
    """Framed glass (system frame-42): equal frames with equal gaps between the posts, and a corner of 135 degrees. Inches."""
    return deck([(0, 0), (192, 0), (240, 48), (240, 144), (0, 144)])


CASES = {"cable": cable, "framed": framed}
