"""The commands of the adapter in FreeCAD's window:  xvfb-run -a freecad tests/adapters/in_window.py"""

import os
import traceback

import FreeCAD
import FreeCADGui
import Part
from FreeCAD import Vector
from PySide import QtCore, QtGui

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
COMMANDS = ["Plumbrail_Selection", "Plumbrail_File", "Plumbrail_Job"]


def check():
    """How many things were as they should be."""
    FreeCADGui.activateWorkbench("DeckRails")
    workbench = FreeCADGui.activeWorkbench()
    assert workbench.name() == "DeckRails", workbench.name()
    assert "Deck rails" in workbench.listToolbars(), workbench.listToolbars()
    assert set(COMMANDS) <= set(FreeCADGui.listCommands())
    doc = FreeCAD.newDocument("Deck")
    sketch = doc.addObject("Sketcher::SketchObject", "Sketch")
    corners = [Vector(0, 0, 0), Vector(3600, 0, 0), Vector(3600, 2400, 0), Vector(0, 2400, 0)]
    for a, b in zip(corners, corners[1:] + corners[:1]):
        sketch.addGeometry(Part.LineSegment(a, b))
    doc.recompute()
    before, undos = len(doc.Objects), doc.UndoCount
    FreeCADGui.Selection.addSelection(sketch)
    FreeCADGui.runCommand(COMMANDS[0])
    assert doc.UndoCount == undos + 1 and doc.UndoNames[0] == "Lay out rails", doc.UndoNames
    post = next(t for t in doc.Objects if t.Label == "P1")
    assert post.ViewObject.LineWidth == 3.0
    text = next(t for t in doc.Objects if t.TypeId == "App::Annotation" and t.LabelText == ["P1"])
    assert text.ViewObject.DisplayMode == "World"
    doc.undo()
    assert len(doc.Objects) == before
    # What cannot be laid out is told in a box, and changes nothing.
    told = []
    QtCore.QTimer.singleShot(500, lambda: told.extend(close_boxes()))
    sketch.Label = "Wall"
    FreeCADGui.runCommand(COMMANDS[0])
    assert len(told) == 1 and "is a deck edge" in told[0], told
    assert len(doc.Objects) == before
    return 9 + unit_is_asked_for()


def unit_is_asked_for():
    """A file without a unit: the question is answered with inches, and the rails come in a new document."""
    from plumbrail_rails import commands

    path = os.path.join(ROOT, "fixtures", "unitless", "plan.dxf")
    doc = FreeCAD.newDocument("Unitless")
    # Nobody answers: nothing is changed.
    QtCore.QTimer.singleShot(500, lambda: answer(None))
    commands.told(lambda: commands.LayOutFile().lay_out(path))
    assert doc.Objects == []
    QtCore.QTimer.singleShot(500, lambda: answer("in"))
    commands.told(lambda: commands.LayOutFile().lay_out(path))
    assert doc.UndoCount == 1 and any(t.Label == "P1" for t in doc.Objects)
    return 3


def answer(unit):
    (box,) = [w for w in QtGui.QApplication.topLevelWidgets() if isinstance(w, QtGui.QInputDialog) and w.isVisible()]
    if unit is None:
        box.reject()
    else:
        box.setTextValue(unit)
        box.accept()


def close_boxes():
    boxes = [w for w in QtGui.QApplication.topLevelWidgets() if isinstance(w, QtGui.QMessageBox) and w.isVisible()]
    texts = [box.text() for box in boxes]
    for box in boxes:
        box.reject()
    return texts


def run():
    status = 1
    try:
        # FreeCAD's own output goes elsewhere; this line must come out.
        os.write(1, f"{check()} checks in FreeCAD's window\n".encode())
        status = 0
    except BaseException:
        os.write(2, traceback.format_exc().encode())
    os._exit(status)


# The window is there when the first event is handled.
QtCore.QTimer.singleShot(2000, run)
