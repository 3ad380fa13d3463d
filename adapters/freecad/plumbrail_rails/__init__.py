# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
"""Guard rails in FreeCAD. Works without its window, too:

    import FreeCAD, plumbrail_rails
    plumbrail_rails.lay_out(FreeCAD.ActiveDocument, [FreeCAD.ActiveDocument.Sketch])
    plumbrail_rails.lay_out_file(FreeCAD.ActiveDocument, "deck.dxf")

Both give the group with the rails, and raise `plumbrail_call.Trouble`, with nothing changed, where there are none.
"""

import os

import plumbrail_call

from . import plan, result

MILLIMETRES = {"in": 25.4, "ft": 304.8, "yd": 914.4, "mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0}


def lay_out(doc, objects, options=()):
    """Lays out the rails of the deck that these objects show. `options` are those of `plumbrail layout`."""
    if not objects:
        raise plumbrail_call.Trouble("nothing is selected\n  hint: select a sketch or wires that show the deck edge")
    drawing, height = plan.drawing(objects)
    done = plumbrail_call.layout(drawing, "rail", ("--units", "mm", *options))
    source = "+".join(sorted(thing.Name for thing in objects))
    return result.show(doc, done, source, 1.0, height)


def lay_out_file(doc, path, options=()):
    """Lays out the rails of a DXF deck plan, at the place that they have in it."""
    done = plumbrail_call.layout(os.fspath(path), "rail", options)
    scale = MILLIMETRES[done.summary["drawing_units"]]
    return result.show(doc, done, os.path.basename(path), scale, 0.0)
