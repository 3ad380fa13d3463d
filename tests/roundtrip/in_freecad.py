"""Imports drawings into FreeCAD and exports them; run by save_by.py within freecadcmd, for many drawings in one process.

The file that ROUNDTRIP_JOBS names says which drawings, and whether "group layers" is on. Texts and points are imported, which
FreeCAD leaves out unless told. Importer and exporter are those in C++.
"""

import json
import os

import FreeCAD

jobs = json.load(open(os.environ["ROUNDTRIP_JOBS"]))

import Import  # noqa: E402
import importDXF  # noqa: E402

settings = FreeCAD.ParamGet("User parameter:BaseApp/Preferences/Mod/Draft")
for name, value in {
    "dxfShowDialog": False,
    "dxftext": True,
    "dxfImportPoints": True,
    "dxflayouts": False,
    "dxfstarblocks": False,
    "groupLayers": jobs["grouped"],
    "dxfUseLegacyImporter": False,
    "dxfUseLegacyExporter": False,
}.items():
    settings.SetBool(name, value)

for source, target in jobs["pairs"]:
    document = FreeCAD.newDocument("drawing")
    try:
        importDXF.insert(source, document.Name)
        Import.writeDXFObject(list(document.Objects), target)
    except Exception as error:  # FreeCAD goes on after a script's error with exit status 0
        print(f"ROUNDTRIP-FAILED {source}: {error!r}")
    FreeCAD.closeDocument(document.Name)
