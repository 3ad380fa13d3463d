# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
# FreeCAD runs this at its start when it has a window.
import FreeCADGui


class DeckRails(FreeCADGui.Workbench):
    """Guard rails for decks."""

    MenuText = "Deck rails"
    ToolTip = "Guard rails for a deck that is drawn here or in a DXF file"

    def __init__(self):
        import os

        import plumbrail_rails

        folder = os.path.dirname(os.path.dirname(plumbrail_rails.__file__))
        self.__class__.Icon = os.path.join(folder, "rails.svg")

    def Initialize(self):
        from plumbrail_rails import commands

        names = commands.register()
        self.appendToolbar("Deck rails", names)
        self.appendMenu("Deck rails", names)

    def GetClassName(self):
        return "Gui::PythonWorkbench"


FreeCADGui.addWorkbench(DeckRails())
