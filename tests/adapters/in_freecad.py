"""Lays out rails within FreeCAD, without its window, through the installed adapter, and measures what stands in the document.

    freecadcmd tests/adapters/in_freecad.py

FreeCAD itself ends with status 0 whatever a script does, so this one ends the process. The last line says how many checks
were made.
"""

import json
import math
import os
import sys
import traceback

import Draft
import FreeCAD
import Part
from FreeCAD import Vector

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
CHECKS = []


def same(found, expected, what=""):
    assert found == expected, f"{what}: found {found!r}, expected {expected!r}"
    CHECKS.append(what)


def near(found, expected, what="", within=1e-4):
    assert abs(found - expected) <= within, f"{what}: found {found}, expected {expected}"
    CHECKS.append(what)


def refused(work, *words):
    try:
        work()
    except plumbrail_call.Trouble as trouble:
        for word in words:
            assert word in str(trouble), f"`{word}` is not in: {trouble}"
        CHECKS.append(words)
        return trouble
    raise AssertionError(f"nobody complained of {words}")


def new():
    doc = FreeCAD.newDocument()
    # Without a window nothing is remembered for undo, unless one asks for it.
    doc.UndoMode = 1
    return doc


def sketch(doc, name, lines, height=0.0):
    """Lines from point to point, or arcs (centre, radius, from, to in degrees)."""
    thing = doc.addObject("Sketcher::SketchObject", name)
    for line in lines:
        if len(line) == 2:
            thing.addGeometry(Part.LineSegment(Vector(*line[0], 0), Vector(*line[1], 0)))
        else:
            centre, radius, start, end = line
            circle = Part.Circle(Vector(*centre, 0), Vector(0, 0, 1), radius)
            thing.addGeometry(Part.ArcOfCircle(circle, math.radians(start), math.radians(end)))
    thing.Placement.Base = Vector(0, 0, height)
    doc.recompute()
    return thing


def ring(*points):
    return list(zip(points, points[1:] + points[:1]))


def layers(group):
    return {folder.Label: folder for folder in group.Group if folder.TypeId == "App::DocumentObjectGroup"}


def of(folder, label):
    (thing,) = [t for t in folder.Group if t.Label == label and t.TypeId == "Part::Feature"]
    return thing


def compare(group, layout, scale, height):
    """Every post and panel of `layout.json` stands where it says, and there are no others."""
    folders = layers(group)
    posts = [t for t in folders["RAIL-POST"].Group if t.TypeId == "Part::Feature"]
    same(sorted(t.Label for t in posts), sorted(p["id"] for p in layout["posts"]), "ids of the posts")
    length = {"in": 25.4, "mm": 1.0}[layout["units"]]
    for post in layout["posts"]:
        shape = of(folders["RAIL-POST"], post["id"]).Shape
        centre = shape.BoundBox.Center
        for found, wanted in zip(centre, (post["x"] * scale, post["y"] * scale, height)):
            near(found, wanted, post["id"])
        near(shape.Length, 4 * post["side"] * length, f"outline of {post['id']}")
    panels = {t.Label: t for t in folders["RAIL-PANEL"].Group if t.TypeId == "Part::Feature"}
    same(sorted(panels), sorted(p["id"] for p in layout["panels"]), "ids of the panels")
    for panel in layout["panels"]:
        middle = [(panel["left"][c] + panel["right"][c]) / 2 * scale for c in "xy"]
        box = panels[panel["id"]].Shape.BoundBox
        assert box.XMin - 1e-4 < middle[0] < box.XMax + 1e-4, panel["id"]
        assert box.YMin - 1e-4 < middle[1] < box.YMax + 1e-4, panel["id"]
        CHECKS.append(panel["id"])
    texts = {"\n".join(t.LabelText) for t in folders["RAIL-TEXT"].Group if t.TypeId == "App::Annotation"}
    wanted = {p["id"] for p in layout["posts"] + layout["panels"]}
    same(wanted - texts, set(), "tags")


DECK = ring((0, 0), (3600, 0), (3600, 2400), (0, 2400))


def a_sketch_becomes_layers():
    doc = new()
    deck = sketch(doc, "Deck", DECK, 500.0)
    wall = sketch(doc, "Wall", [((-1000, 2400), (4600, 2400))])
    before, undos = len(doc.Objects), doc.UndoCount
    options = ("--inset", "80mm")
    group = plumbrail_rails.lay_out(doc, [deck, wall], options)
    drawing, height = plan.drawing([deck, wall])
    same(height, 500.0, "height")
    layout = json.loads(plumbrail_call.layout(drawing, "json", ("--units", "mm", *options)).data)
    compare(group, layout, 1.0, 500.0)
    # The rail line is the edge moved in by the inset: its corners by closed form. The wall side has none.
    places = [(round(p["x"], 6), round(p["y"], 6)) for p in layout["posts"] if p["kind"] == "corner"]
    same(sorted(places), [(80.0, 80.0), (3520.0, 80.0)], "corner posts")
    findings = [t for t in group.Group if t.TypeId == "App::TextDocument"]
    same(len(findings), 1, "findings")
    assert findings[0].Text.startswith("Rails: ") and "; complete, all checked limits met (" in findings[0].Text, findings[0].Text
    again_and_undo(doc, [deck, wall], options, before, undos)


def again_and_undo(doc, objects, options, before, undos):
    """A second run replaces the first; each is one step of undo."""
    labels = sorted(t.Label for t in doc.Objects)
    plumbrail_rails.lay_out(doc, objects, options)
    same(sorted(t.Label for t in doc.Objects), labels, "objects after a second run")
    same(doc.UndoCount, undos + 2, "steps of undo")
    doc.undo()
    same(sorted(t.Label for t in doc.Objects), labels, "objects after one undo")
    doc.undo()
    same(len(doc.Objects), before, "objects after two")
    # Another source stands beside it.
    plumbrail_rails.lay_out(doc, objects, options)
    one = len(doc.Objects)
    plumbrail_rails.lay_out(doc, objects[:1], options)
    same(len([t for t in doc.Objects if hasattr(t, "RailSource")]), 2, "groups of two sources")
    assert len(doc.Objects) > one


def arcs_stay_arcs():
    doc = new()
    # A half circle of radius 1800 before a straight front, in one sketch.
    deck = sketch(doc, "Round", [((0, 0), (3600, 0)), ((1800, 0), 1800, 0, 180)])
    drawing, _ = plan.drawing([deck])
    tags = dxf.tags(drawing)
    # Two quarters: the tangent of a quarter of 90 degrees (closed).
    bulges = [float(v) for c, v in tags if c == 42]
    same(len(bulges), 2, "bulges")
    for b in bulges:
        near(abs(b), math.tan(math.pi / 8), "bulge", 1e-6)
    options = ("--inset", "80mm")
    group = plumbrail_rails.lay_out(doc, [deck], options)
    layout = json.loads(plumbrail_call.layout(drawing, "json", ("--units", "mm", *options)).data)
    compare(group, layout, 1.0, 0.0)
    centres = [of(layers(group)["RAIL-POST"], p["id"]).Shape.BoundBox.Center for p in layout["posts"]]
    # Posts on the curve stand the inset inside of it (closed).
    on_curve = [math.hypot(c.x - 1800, c.y) for c in centres if c.y > 200]
    assert len(on_curve) >= 2
    for radius in on_curve:
        near(radius, 1800 - 80, "post on the curve", 0.01)


def outline(drawing):
    """Length and area of the closed outlines that are drawn, by their bulges (closed form of a circle's segment)."""
    length = area = 0.0
    points, bulges = [], []
    for code, value in dxf.tags(drawing) + [(0, "POLYLINE")]:
        if (code, value) == (0, "POLYLINE"):
            for (ax, ay), (bx, by), b in zip(points, points[1:] + points[:1], bulges):
                chord, angle = math.hypot(bx - ax, by - ay), 4 * math.atan(b)
                area += (ax * by - bx * ay) / 2
                if b:
                    radius = chord / 2 / math.sin(abs(angle) / 2)
                    length += radius * abs(angle)
                    area += math.copysign(radius**2 / 2 * (abs(angle) - math.sin(abs(angle))), b)
                else:
                    length += chord
            points, bulges = [], []
        elif (code, value) == (0, "VERTEX"):
            points.append([0.0, 0.0])
            bulges.append(0.0)
        elif points and code in (10, 20):
            points[-1][code // 10 - 1] = float(value)
        elif points and code == 42:
            bulges[-1] = float(value)
    return length, abs(area)


def curves_are_drawn_whichever_way_they_run():
    doc = new()
    # A slot: two straight sides and two half circles of radius 1000; the straight ones run with and against the round.
    slot = math.pi * 1000**2 + 2000 * 3000
    for i, turned in enumerate((False, True)):
        sides = [((0, -1000), (3000, -1000)), ((3000, 1000), (0, 1000))]
        sides = [side[::-1] if turned else side for side in sides]
        arcs = [((3000, 0), 1000, -90, 90), ((0, 0), 1000, 90, 270)]
        deck = sketch(doc, f"Slot{i}", [sides[0], arcs[0], sides[1], arcs[1]])
        deck.Placement = FreeCAD.Placement(Vector(700, -300, 40), FreeCAD.Rotation(Vector(0, 0, 1), 30))
        drawing, height = plan.drawing([deck])
        length, area = outline(drawing)
        near(height, 40.0, "height")
        near(length, 2 * math.pi * 1000 + 6000, "length of a slot", 1e-3)
        near(area, slot, "area of a slot", 1)
    # A whole circle, and an ellipse and a spline, which become arcs.
    circle = doc.addObject("Part::Feature", "Circle")
    circle.Shape = Part.makeCircle(1500, Vector(100, 200, 0))
    tags = dxf.tags(plan.drawing([circle])[0])
    same([float(v) for c, v in tags if c in (10, 20, 40)], [100.0, 200.0, 1500.0], "circle")
    spline = Part.BSplineCurve()
    spline.interpolate([Vector(0, 0, 0), Vector(2000, 400, 0), Vector(4000, 0, 0), Vector(2500, -2500, 0)], PeriodicFlag=True)
    for name, curve in (("Ellipse", Part.Ellipse(Vector(0, 0, 0), 3000, 1800)), ("Spline", spline)):
        thing = doc.addObject("Part::Feature", name)
        thing.Shape = curve.toShape()
        thing.Placement.Base = Vector(5000, 5000, 0)
        length, area = outline(plan.drawing([thing])[0])
        # Within 0.1 along the whole length; FreeCAD measures along 10,000 chords, far finer than that.
        points = thing.Shape.Edges[0].discretize(10001)
        chords = [a.distanceToPoint(b) for a, b in zip(points, points[1:])]
        near(length, sum(chords), f"length of an {name}", 0.5)
        shoelace = sum(a.x * b.y - b.x * a.y for a, b in zip(points, points[1:])) / 2
        near(area, abs(shoelace), f"area of an {name}", 0.1 * length)


def stairs_have_their_rise():
    doc = new()
    deck = sketch(doc, "Deck", DECK, 900.0)
    options = ("--inset", "80mm")
    ground = 900.0 - 5 * 180.0
    flights = []
    # Five risers of 180: four treads of 250 from the front edge, as two lines from the top nosing to the bottom one.
    lines = doc.addObject("Part::Feature", "Lines")
    lines.Label = "Stair"
    lines.Shape = Part.makeCompound(
        [Part.makeLine(Vector(x, 0, 900), Vector(x, -1000, ground + 180)) for x in (1200, 2200)]
    )
    flights.append([deck, lines])
    # The same as a rectangle with a text beside it.
    box = sketch(doc, "Box", ring((1200, 0), (2200, 0), (2200, -1000), (1200, -1000)), 900.0)
    box.Label = "Stair flat"
    text = doc.addObject("App::Annotation", "Note")
    text.LabelText = ["DN 5R 180 x 250"]
    text.Position = Vector(1700, -500, 900)
    flights.append([deck, box, text])
    for objects in flights:
        drawing, _ = plan.drawing(objects)
        layout = json.loads(plumbrail_call.layout(drawing, "json", ("--units", "mm", *options)).data)
        (flight,) = layout["flights"]
        found = (flight["risers"], flight["riser"], flight["tread"])
        for a, b in zip(found, (5, 180.0, 250.0)):
            near(a, b, "steps", 1e-6)
        group = plumbrail_rails.lay_out(doc, objects, options)
        compare(group, layout, 1.0, 900.0)
        doc.undo()


def roles_come_from_labels_and_layers():
    doc = new()
    deck = sketch(doc, "Deck", DECK)
    part = doc.addObject("App::DocumentObjectGroup", "Group")
    part.Label = "A-DECK-POST"
    post = doc.addObject("Part::Box", "Box")
    post.Length, post.Width, post.Height = 90, 90, 900
    post.Placement.Base = Vector(1500, 35, 0)
    part.addObject(post)
    gate = sketch(doc, "Thing", [((3600, 800), (3600, 1700))])
    gate.Label = "Garden gate"
    front = sketch(doc, "Front", [((0, 2400), (3600, 2400))])
    holder = Draft.make_layer("A-HOUSE")
    holder.Proxy.addObject(holder, front)
    for thing, layer in ((deck, "DECK-EDGE"), (post, "POST"), (gate, "OPENING"), (front, "WALL")):
        same(plan.role(thing), layer, thing.Label)
    group = plumbrail_rails.lay_out(doc, [deck, post, gate], ("--inset", "80mm"))
    drawing, _ = plan.drawing([deck, post, gate])
    layout = json.loads(plumbrail_call.layout(drawing, "json", ("--units", "mm", "--inset", "80mm")).data)
    compare(group, layout, 1.0, 0.0)
    drawn = [p for p in layout["posts"] if p["origin"] == "drawn"]
    same([(p["x"], p["y"], p["side"]) for p in drawn], [(1545.0, 80.0, 90.0)], "the post that was drawn")
    inside = [p for p in layout["posts"] if p["x"] > 3500 and 810 < p["y"] < 1690]
    same(inside, [], "posts in the opening")


def a_file_becomes_layers():
    for case, scale, options in (
        ("lakeside", 25.4, ()),
        ("metric", 1.0, ()),
        ("binary", 25.4, ()),
        ("r12", 25.4, ("--units", "in")),
        ("curved", 25.4, ()),
    ):
        doc = new()
        path = os.path.join(ROOT, "fixtures", case, "plan.dxf")
        group = plumbrail_rails.lay_out_file(doc, path, options)
        layout = json.loads(plumbrail_call.layout(path, "json", options).data)
        compare(group, layout, scale, 0.0)
        same(doc.UndoCount, 1, case)
        expected = {"RAIL-LINE", "RAIL-PANEL", "RAIL-POST", "RAIL-DIMS", "RAIL-TEXT"}
        same(expected - set(layers(group)), set(), f"layers of {case}")


def what_cannot_be_laid_out_changes_nothing():
    doc = new()
    wall = sketch(doc, "Wall", [((0, 0), (3600, 0))])
    upright = doc.addObject("Part::Feature", "Upright")
    upright.Shape = Part.makeLine(Vector(0, 0, 0), Vector(0, 0, 100))
    bent = doc.addObject("Part::Feature", "Bent")
    bent.Shape = Part.makePolygon([Vector(0, 0, 0), Vector(3000, 0, 0), Vector(3000, 2000, 100)])
    before, undos = [t.Name for t in doc.Objects], doc.UndoCount
    fixture = lambda case: os.path.join(ROOT, "fixtures", case, "plan.dxf")
    refused(lambda: plumbrail_rails.lay_out(doc, []), "nothing is selected", "hint:")
    refused(lambda: plumbrail_rails.lay_out(doc, [wall]), "nothing that is selected is a deck edge", "hint:")
    refused(lambda: plumbrail_rails.lay_out(doc, [upright]), "Upright does not lie level", "hint:")
    refused(lambda: plumbrail_rails.lay_out(doc, [bent]), "Bent does not lie level", "hint:")
    refused(lambda: plumbrail_rails.lay_out_file(doc, fixture("wrong-layers")), "error: ", "hint:")
    unitless = refused(lambda: plumbrail_rails.lay_out_file(doc, fixture("unitless")), "error: ", "--units")
    assert "units-missing" in unitless.codes, unitless.codes
    refused(lambda: plumbrail_rails.lay_out_file(doc, "none.dxf"), "there is no file none.dxf")
    path, plumbrail_call.PROGRAM = plumbrail_call.PROGRAM, "/nowhere/plumbrail"
    refused(
        lambda: plumbrail_rails.lay_out_file(doc, fixture("lakeside")),
        "plumbrail was not found at /nowhere/plumbrail",
        "plumbrail adapters install",
    )
    plumbrail_call.PROGRAM = path
    same([t.Name for t in doc.Objects], before, "objects")
    same(doc.UndoCount, undos, "steps of undo")


def main():
    for check in (
        a_sketch_becomes_layers,
        arcs_stay_arcs,
        curves_are_drawn_whichever_way_they_run,
        stairs_have_their_rise,
        roles_come_from_labels_and_layers,
        a_file_becomes_layers,
        what_cannot_be_laid_out_changes_nothing,
    ):
        check()
        print(f"{check.__name__}: ok")
    print(f"{len(CHECKS)} checks in FreeCAD {'.'.join(FreeCAD.Version()[:3])}")


status = 1
try:
    import plumbrail_call
    import plumbrail_rails
    from plumbrail_rails import dxf, plan

    main()
    status = 0
except BaseException:
    traceback.print_exc()
sys.stdout.flush()
sys.stderr.flush()
os._exit(status)
