# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
"""The rails that came back -> objects in the document: a group, in it a group for each layer, and the findings."""


import math

import FreeCAD
import Part

import plumbrail_call

from . import dxf

# What the groups and shapes of ours are known by.
MARK = "RailSource"
UNDO = "Lay out rails"
# Size of a font by the height of its capitals (usual for sans faces).
FONT = 1.4

# Layer -> colour, by the end of its name.
COLOURS = {
    "POST": (0.07, 0.07, 0.07),
    "LINE": (0.70, 0.15, 0.12),
    "PANEL": (0.35, 0.22, 0.10),
    "DIMS": (0.11, 0.31, 0.61),
    "TEXT": (0.07, 0.07, 0.07),
    "NOTE": (0.63, 0.00, 0.54),
}


def show(doc, done, source, scale, height):
    """Puts a result into the document in one step of undo; an earlier one of the same source goes."""
    things = dxf.rails(done.data)
    if not things:
        raise plumbrail_call.Trouble("the drawing that came back has no rails in it")
    doc.openTransaction(UNDO)
    try:
        take_away(doc, source)
        group = doc.addObject("App::DocumentObjectGroup", "Rails")
        group.addProperty("App::PropertyString", MARK, "Rails", "What these rails were laid out for")
        setattr(group, MARK, source)
        group.setEditorMode(MARK, 1)
        group.Label = f"Rails of {source}"
        for layer, own in by(things, lambda item: item.layer).items():
            folder = doc.addObject("App::DocumentObjectGroup", name(layer))
            folder.Label = layer
            group.addObject(folder)
            for owner, parts in by(own, lambda item: item.owner).items():
                draw(doc, folder, layer, owner, parts, scale, height)
        group.addObject(findings(doc, done))
        doc.recompute()
    except Exception:
        doc.abortTransaction()
        raise
    doc.commitTransaction()
    report(done)
    return group


def by(things, key):
    """Things with the same key together, in the order in which each key comes first."""
    out = {}
    for thing in things:
        out.setdefault(key(thing), []).append(thing)
    return out


def name(layer):
    return "".join(c if c.isalnum() else "_" for c in layer)


def take_away(doc, source):
    """Earlier rails of the same source, with all that is in their group."""
    for group in [o for o in doc.Objects if getattr(o, MARK, None) == source]:
        for folder in group.Group:
            for thing in getattr(folder, "Group", []):
                doc.removeObject(thing.Name)
            doc.removeObject(folder.Name)
        doc.removeObject(group.Name)


def draw(doc, folder, layer, owner, parts, scale, height):
    """One shape for all lines of a post, panel or dimension, and an annotation for each text."""
    kind, ident = owner
    label = ident if kind in ("post", "panel") else f"{ident} {kind}"
    shapes = [s for item in parts if item.kind != "text" for s in shape(item, scale, height)]
    if shapes:
        thing = doc.addObject("Part::Feature", name(f"{kind}_{ident}"))
        thing.Label = label
        thing.Shape = shapes[0] if len(shapes) == 1 else Part.makeCompound(shapes)
        folder.addObject(thing)
        colour(thing, layer)
    for item in parts:
        if item.kind == "text" and item.text.content:
            thing = annotation(doc, ident, item, scale, height)
            folder.addObject(thing)
            colour(thing, layer)


def annotation(doc, ident, item, scale, height):
    """A text that lies in the plan like any other line, as high as on the drawing."""
    text = item.text
    thing = doc.addObject("App::Annotation", name(f"text_{ident}"))
    thing.Label = f"Text {text.content}"
    thing.LabelText = text.content.split("\n")
    turn, drop = math.radians(text.turn), text.height * scale * text.below
    down = FreeCAD.Vector(math.sin(turn), -math.cos(turn), 0.0) * drop
    thing.Position = vector(item.points[0], scale, height) + down
    view = getattr(thing, "ViewObject", None)
    if view is not None:
        view.DisplayMode = "World"
        view.FontSize = text.height * scale * FONT
        view.Rotation = text.turn
        view.Justification = text.align
    return thing


def vector(point, scale, height):
    return FreeCAD.Vector(point[0] * scale, point[1] * scale, height)


def shape(item, scale, height):
    """Wire, face or circle of an item, in mm."""
    if item.kind == "circle":
        return [Part.makeCircle(item.radius * scale, vector(item.points[0], scale, height))]
    points = [vector(p, scale, height) for p in item.points]
    ends = list(zip(points, points[1:] + points[:1] if item.closed else points[1:], item.bulges))
    edges = [edge(a, b, bulge) for a, b, bulge in ends if a.distanceToPoint(b) > 1e-6]
    if not edges:
        return []
    wire = Part.Wire(edges)
    return [Part.Face(wire)] if item.kind == "fill" else [wire]


def edge(start, end, bulge):
    """A line, or the arc of a bulge through the point that stands off the chord's middle."""
    if bulge == 0.0:
        return Part.makeLine(start, end)
    chord = end - start
    across = FreeCAD.Vector(chord.y, -chord.x, 0.0) * (bulge / 2)
    return Part.Arc(start, start + chord * 0.5 + across, end).toShape()


def colour(thing, layer):
    """Only where there is a window."""
    view = getattr(thing, "ViewObject", None)
    if view is None:
        return
    ink = next((c for end, c in COLOURS.items() if layer.endswith(end)), (0.2, 0.2, 0.2))
    for property in ("LineColor", "ShapeColor", "TextColor"):
        if hasattr(view, property):
            setattr(view, property, ink)
    if hasattr(view, "LineWidth"):
        view.LineWidth = 3.0 if layer.endswith("POST") else 1.0
        view.PointSize = 1.0


def findings(doc, done):
    """What was found, as a text in the document."""
    text = doc.addObject("App::TextDocument", "RailFindings")
    text.Label = "Findings"
    said = [plumbrail_call.told(m) for m in done.findings]
    text.Text = "\n".join([done.sentence(), "", *said]) + "\n"
    return text


def report(done):
    """The same in the report view."""
    for message in done.findings:
        if message["severity"] in ("error", "incomplete"):
            FreeCAD.Console.PrintError(plumbrail_call.told(message) + "\n")
        elif message["severity"] == "warning":
            FreeCAD.Console.PrintWarning(plumbrail_call.told(message) + "\n")
    notes = sum(message["severity"] == "note" for message in done.findings)
    FreeCAD.Console.PrintMessage(f"{done.sentence()}; notes: {notes}\n")
