# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
"""The two commands of the window."""

import os

import FreeCAD
import FreeCADGui
from PySide import QtGui

import plumbrail_call
import plumbrail_rails

ICON = os.path.join(os.path.dirname(os.path.dirname(plumbrail_rails.__file__)), "rails.svg")
TITLE = "Deck rails"
UNITS = ["in", "ft", "mm", "cm", "m"]


def told(work):
    """Does the work; what goes wrong is shown, and nothing is changed."""
    try:
        return work()
    except plumbrail_call.Trouble as trouble:
        FreeCAD.Console.PrintError(f"{trouble}\n")
        QtGui.QMessageBox.warning(FreeCADGui.getMainWindow(), TITLE, str(trouble))
        return None


class LayOutSelection:
    """Rails for what is selected."""

    def GetResources(self):
        return {
            "Pixmap": ICON,
            "MenuText": "Lay out rails for the selection",
            "ToolTip": "Lay out guard rails along the selected sketch, wires or faces. Objects with WALL, OPENING, POST, STAIR "
            "or KEEP in their label, or in that of their layer, are taken for that",
        }

    def IsActive(self):
        return FreeCAD.ActiveDocument is not None and bool(FreeCADGui.Selection.getSelection())

    def Activated(self):
        told(lambda: plumbrail_rails.lay_out(FreeCAD.ActiveDocument, FreeCADGui.Selection.getSelection()))


class LayOutFile:
    """Rails for a plan in a file."""

    def GetResources(self):
        return {
            "Pixmap": ICON,
            "MenuText": "Lay out rails for a DXF file ...",
            "ToolTip": "Lay out guard rails for a deck plan and show them where they are in it",
        }

    def IsActive(self):
        return True

    def Activated(self):
        window = FreeCADGui.getMainWindow()
        path, _ = QtGui.QFileDialog.getOpenFileName(window, TITLE, "", "Deck plans (*.dxf *.DXF)")
        if path:
            told(lambda: self.lay_out(path))

    def lay_out(self, path):
        doc = FreeCAD.ActiveDocument or FreeCAD.newDocument("Deck")
        try:
            plumbrail_rails.lay_out_file(doc, path)
        except plumbrail_call.Refused as refused:
            if "units-missing" not in refused.codes:
                raise
            window = FreeCADGui.getMainWindow()
            unit, is_chosen = QtGui.QInputDialog.getItem(window, TITLE, f"{refused}\n\nUnit of the drawing:", UNITS, 0, False)
            if is_chosen:
                plumbrail_rails.lay_out_file(doc, path, ("--units", unit))
        FreeCADGui.SendMsgToActiveView("ViewFit")


def register():
    """Makes the commands known; gives their names."""
    commands = {"Plumbrail_Selection": LayOutSelection(), "Plumbrail_File": LayOutFile()}
    for name, command in commands.items():
        FreeCADGui.addCommand(name, command)
    return list(commands)
