"""Writes drawings of all kinds, each with a small deck in it: python make_corpus.py FOLDER

Every version in text and binary, line ends and code pages, every kind of entity and object that ezdxf can write, what
GDAL writes, and minimal files by hand. Each holds a deck of 240 x 144 in on the layer A-DECK-EDGE below a wall.
"""

import logging
import pathlib
import sys
import warnings

import ezdxf
import numpy
import pyogrio
import shapely
from ezdxf.addons.r12writer import r12writer

from corpus_entities import ENTITIES
from corpus_objects import NEEDS_R2018, OBJECTS

warnings.filterwarnings("ignore", message="'crs' was not provided")
logging.getLogger("ezdxf").setLevel(logging.ERROR)  # it warns that R12 has no $INSUNITS

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]
# Code page, and words that need it.
CODE_PAGES = {
    "cp1250": "Příčka", "cp1251": "Перила", "cp1253": "Κάγκελο", "cp1254": "Parmaklığı", "cp874": "ราว",
    "cp932": "手すり表", "gbk": "栏杆", "cp949": "난간", "cp950": "欄杆功",
}
DECK = [(0, 0), (240, 0), (240, 144), (0, 144)]
WALL = [(-24, 144), (264, 144), (264, 150), (-24, 150)]
EDGE_LAYER, WALL_LAYER = "A-DECK-EDGE", "A-WALL"


def new(version="R2010"):
    doc = ezdxf.new(version, setup=True, units=1)
    doc.header["$MEASUREMENT"] = 0
    return doc


def add_deck(doc):
    msp = doc.modelspace()
    for layer, points in [(EDGE_LAYER, DECK), (WALL_LAYER, WALL)]:
        doc.layers.add(layer)
        if doc.dxfversion == "AC1009":
            msp.add_polyline2d(points, close=True, dxfattribs={"layer": layer})
        else:
            msp.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def everything(version):
    """All entities and objects that the version knows, in one drawing; what ezdxf refuses for the version is left out."""
    doc = new(version)
    for add in [*ENTITIES.values(), *OBJECTS.values()]:
        try:
            add(doc)
        except ezdxf.DXFError:
            pass
    add_deck(doc)
    return doc


def by_version(folder):
    for version in VERSIONS:
        doc = everything(version)
        text = folder / f"all-{version}.dxf"
        doc.saveas(text)
        (folder / f"all-{version}-crlf.dxf").write_bytes(text.read_bytes().replace(b"\n", b"\r\n"))
        doc = new(version)
        add_deck(doc)
        doc.saveas(folder / f"plain-{version}-binary.dxf", fmt="bin")
    doc = everything("R2018")
    doc.saveas(folder / "all-R2018-binary.dxf", fmt="bin")


def by_kind(folder):
    for name, add in [*ENTITIES.items(), *OBJECTS.items()]:
        doc = new("R2018" if name in NEEDS_R2018 else "R2010")
        add(doc)
        add_deck(doc)
        doc.saveas(folder / f"{name}.dxf")


def by_code_page(folder):
    for encoding, words in CODE_PAGES.items():
        doc = new("R2000" if encoding != "cp1251" else "R12")
        doc.encoding = encoding
        msp = doc.modelspace()
        layer = f"A {words}" if encoding != "cp1251" else "NOTES"
        doc.layers.add(layer)
        msp.add_text(words, height=4, dxfattribs={"layer": layer})
        add_deck(doc)
        doc.saveas(folder / f"page-{encoding}.dxf", encoding=encoding)


def by_hand(folder):
    """Minimal drawings: R12 without handles, without tables, with nothing but entities; R2000 with comments."""
    for name, fixed_tables in [("r12-entities", False), ("r12-tables", True)]:
        with r12writer(str(folder / f"{name}.dxf"), fixed_tables=fixed_tables) as dxf:
            for layer, points in [(EDGE_LAYER, DECK), (WALL_LAYER, WALL)]:
                dxf.add_polyline_2d(points, layer=layer, closed=True)
            dxf.add_text("no handles", (20, 20))
    entities = (folder / "r12-entities.dxf").read_text()
    (folder / "r12-cr.dxf").write_bytes(entities.replace("\n", "\r").encode())
    (folder / "r12-comment.dxf").write_text("999\nwritten by hand\n" + entities)
    doc = new("R2000")
    add_deck(doc)
    doc.saveas(folder / "comments.dxf")
    text = (folder / "comments.dxf").read_text()
    text = text.replace("  0\nENDTAB\n", "999\nthe table ends\n  0\nENDTAB\n").replace("  0\nENDSEC\n", "999\nand so on\n  0\nENDSEC\n")
    (folder / "comments.dxf").write_text(text)
    (folder / "byte-order-mark.dxf").write_bytes(b"\xef\xbb\xbf" + (folder / "all-R2010.dxf").read_bytes())
    tail = (folder / "hatch.dxf").read_bytes() + b"\x1a trailing bytes"
    (folder / "trailing.dxf").write_bytes(tail)
    padded = (folder / "all-R2004.dxf").read_text(encoding="cp1252", errors="surrogateescape").splitlines()
    padded = [f"{line:>6}" if at % 2 == 1 and padded[at - 1].strip() == "70" else line for at, line in enumerate(padded)]
    text = "\r\n".join(padded) + "\r\n"
    (folder / "padded-counts.dxf").write_bytes(text.encode("cp1252", errors="surrogateescape"))


def by_gdal(folder):
    """What another writer makes: GDAL's DXF driver, from its own header and trailer."""
    shapes = [shapely.LinearRing(DECK), shapely.LinearRing(WALL), shapely.Point(20, 20), shapely.box(30, 30, 40, 40)]
    layers = [EDGE_LAYER, WALL_LAYER, "MARKS", "MARKS"]
    fields = [numpy.array(layers, dtype=object)]
    for kind, keep in [("lines", slice(0, 2)), ("all", slice(0, 4))]:
        geometry = numpy.array([shapely.to_wkb(s) for s in shapes[keep]], dtype=object)
        pyogrio.raw.write(folder / f"gdal-{kind}.dxf", geometry=geometry, field_data=[f[keep] for f in fields],
                          fields=["Layer"], driver="DXF", geometry_type="Unknown", crs=None)


def main():
    folder = pathlib.Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for write in [by_version, by_kind, by_code_page, by_hand, by_gdal]:
        write(folder)
    print(f"OK {len(list(folder.glob('*.dxf')))} drawings in {folder}")


if __name__ == "__main__":
    main()
