"""What a drawing keeps when a program opens it and saves it: a Markdown table, writer by writer.

    survives.py [--out FILE.md] [--writers NAME ...]

A sample with one of each thing that could carry what must be found again is made (R2000 and R2010), saved by each writer of
save_by.py, and read with ezdxf. A cell says yes, no, or what became of it. "unreadable" is a drawing that ezdxf does not
read either, with its word.
"""

import argparse
import collections
import concurrent.futures
import math
import pathlib
import sys
import tempfile

import ezdxf
from ezdxf import recover

import save_by

LONG = "PLUMBRAIL 1;" + "".join(f"P{n}=12.{n:02},-{n}.5;" for n in range(1, 40))
LONG = LONG[:250]
PLACE = (123.456789012345, 45.678901234567)
# Inches, and millimetres: a writer that says inches of every drawing shall be seen.
UNIT = {"R2000": 1, "R2010": 4}
MEASUREMENT = {"R2000": 0, "R2010": 1}
NAMES = ["RAIL-LINE", "RAIL-$0$-LINE"]


def sample(path, version):
    doc = ezdxf.new(version, setup=True)
    doc.header["$INSUNITS"] = UNIT[version]
    doc.header["$MEASUREMENT"] = MEASUREMENT[version]
    if version >= "R2004":
        doc.header.custom_vars.append("PLUMBRAIL", "custom")
    doc.appids.add("PLUMBRAIL")
    for name in NAMES + ["OFF", "FROZEN", "UNPLOTTED", "EMPTY-LAYER"]:
        doc.layers.add(name)
    doc.layers.get("OFF").off()
    doc.layers.get("FROZEN").freeze()
    doc.layers.get("UNPLOTTED").dxf.plot = 0
    rail = doc.layers.get("RAIL-LINE")
    rail.set_xdata("PLUMBRAIL", [(1000, "on a layer")])
    rail.description = "described"
    msp = doc.modelspace()
    line = msp.add_line(PLACE, (200, 100), {"layer": "RAIL-LINE"})
    line.set_xdata("PLUMBRAIL", [(1000, "on an entity"), (1010, (1, 2, 3))])
    line.new_extension_dict().add_dictionary_var("KEY", "in an extension dictionary")
    msp.add_line((0, 0), (1, 0), {"layer": "RAIL-$0$-LINE"})
    post = doc.blocks.new("RAIL-POST-5IN", base_point=(0, 0))
    post.add_lwpolyline([(-2.5, -2.5), (2.5, -2.5), (2.5, 2.5), (-2.5, 2.5)], close=True)
    post.add_attdef("ID", (0, 0), dxfattribs={"height": 1, "flags": 1})
    post.add_text("INSIDE", dxfattribs={"height": 1})
    first = msp.add_blockref("RAIL-POST-5IN", (300, 50), {"layer": "RAIL-LINE", "rotation": 30})
    first.add_attrib("ID", "P1", (300, 50), dxfattribs={"height": 1, "flags": 1})
    msp.add_blockref("RAIL-POST-5IN", (310, 50), {"layer": "RAIL-LINE"})
    unused = doc.blocks.new("RAIL-UNUSED")
    unused.add_text("IN-UNUSED", dxfattribs={"height": 1})
    unused.add_attdef("NOTE", (0, 0), "ATTDEF-VALUE", dxfattribs={"height": 1})
    msp.add_text("PLAINTEXT", dxfattribs={"height": 4, "layer": "RAIL-LINE"}).set_placement((10, 20))
    msp.add_text("MIDTEXT", dxfattribs={"height": 4, "layer": "RAIL-LINE"}).set_placement((50, 20), align=ezdxf.enums.TextEntityAlignment.MIDDLE_CENTER)
    # Its bytes are those of the code page in R2000; FreeCAD's importer stops at the first one, so that R2010 must do.
    if version >= "R2010":
        msp.add_text("NO Ø ° ± 1/2\"", dxfattribs={"height": 4, "layer": "RAIL-LINE"}).set_placement((70, 20))
    msp.add_mtext("MULTI\\PLINE", {"char_height": 4, "insert": (10, 40), "width": 60, "layer": "RAIL-LINE"})
    for layer in ["OFF", "FROZEN", "UNPLOTTED"]:
        msp.add_text(f"ON-{layer}", dxfattribs={"height": 4, "layer": layer}).set_placement((10, 60))
    msp.add_text("INVISIBLE", dxfattribs={"height": 4, "invisible": 1}).set_placement((10, 66))
    msp.add_text(LONG, dxfattribs={"height": 4, "layer": "RAIL-LINE"}).set_placement((10, 80))
    msp.add_point((77.25, 88.5), {"layer": "RAIL-LINE"})
    msp.add_lwpolyline([(0, 0, 0), (10, 0, 0.5), (10, 10, 0), (0, 10, 0)], format="xyb", close=True, dxfattribs={"layer": "RAIL-LINE"})
    msp.add_circle((500, 500), 7, {"layer": "RAIL-LINE"})
    msp.add_hatch(color=2).paths.add_polyline_path([(400, 0), (410, 0), (410, 10)], is_closed=True)
    msp.add_linear_dim(base=(0, -20), p1=(0, 0), p2=(100, 0), dimstyle="EZDXF", dxfattribs={"layer": "RAIL-LINE"}).render()
    group = doc.groups.new("PLUMBRAIL-GROUP")
    group.extend([line])
    mine = doc.rootdict.add_new_dict("PLUMBRAIL")
    record = mine.add_xrecord("RECORD")
    record.reset([(1, "in an xrecord")])
    doc.saveas(path)
    text = path.read_text(encoding="utf-8" if version >= "R2007" else "cp1252")
    path.write_text("999\nPLUMBRAIL comment\n" + text, encoding="utf-8" if version >= "R2007" else "cp1252")


def plain(entity):
    """The text as it is read: without MTEXT's codes for a fixed space, or TEXT's for degrees and plus-minus."""
    if entity.dxftype() == "MTEXT":
        return entity.text.replace("\\~", " ").replace("\\P", "\n")
    return entity.dxf.text.replace("%%D", "°").replace("%%P", "±")


def texts(doc, place):
    return [e for e in place if e.dxftype() in ("TEXT", "MTEXT")]


def found_text(doc, wanted):
    """How a text of model space came back: what it is and where."""
    for entity in texts(doc, doc.modelspace()):
        if plain(entity).replace("\n", "|").strip() == wanted:
            raw = entity.text if entity.dxftype() == "MTEXT" else entity.dxf.text
            return entity.dxftype() + (f" {raw[:48]!r}" if raw not in (wanted, wanted.replace("|", "\\P")) else ""), entity
    for entity in texts(doc, doc.modelspace()):
        if len(wanted) > 20 and wanted[:20] in plain(entity):
            return f"{entity.dxftype()} cut to {len(plain(entity))} characters", entity
    for block in doc.blocks:
        if block.name.lower() not in ("*model_space", "*paper_space") and any(wanted == plain(e) for e in texts(doc, block)):
            return f"in block {block.name}", None
    return "no", None


def facts(path, version, source=None):
    told = collections.OrderedDict()
    try:
        doc = ezdxf.readfile(path)
    except Exception as error:
        try:
            doc, auditor = recover.readfile(path)
            told["readable"] = f"only by recovery: {str(error).strip()[:70]!r}"
        except Exception:
            return {"readable": f"unreadable: {str(error).strip()[:90]!r}"}
    else:
        told["readable"] = "yes"
    msp = doc.modelspace()
    size = scale(msp)
    place, post, end = [(x * size, y * size) for x, y in [PLACE, (300, 50), (200, 100)]]
    raw = path.read_bytes().decode("utf-8", "replace").replace("\r\n", "\n")
    told["version"] = doc.dxfversion + f" ({doc.acad_release})"
    units = doc.header.get("$INSUNITS")
    told[f"$INSUNITS {UNIT[version]}"] = "yes" if units == UNIT[version] else f"{units}"
    told[f"$MEASUREMENT {MEASUREMENT[version]}"] = "yes" if doc.header.get("$MEASUREMENT") == MEASUREMENT[version] else f"{doc.header.get('$MEASUREMENT')}"
    told["custom property"] = ("yes" if any(v == "custom" for _, v in doc.header.custom_vars.properties) else "no") if version >= "R2004" else "-"
    told["999 comment"] = "yes" if "PLUMBRAIL comment" in raw else "no"
    told["XDATA of an entity"] = "yes" if "on an entity" in raw else "no"
    told["XDATA of a layer"] = "yes" if "on a layer" in raw else "no"
    told["extension dictionary"] = "yes" if "in an extension dictionary" in raw else "no"
    told["XRECORD in a named dictionary"] = "yes" if "in an xrecord" in raw else "no"
    told["GROUP"] = "yes" if "PLUMBRAIL-GROUP" in raw else "no"
    told["layer description"] = "yes" if "described" in raw else "no"
    layers = [layer.dxf.name for layer in doc.layers]
    for name in NAMES:
        like = [n for n in layers if n.replace("_", "-").replace("$", "-").upper().replace("--", "-") == name.replace("$", "-").upper().replace("--", "-")]
        told[f"layer {name}"] = "yes" if name in layers else f"renamed {like[0]}" if like else "no"
    told["empty layer"] = "yes" if any(n.replace("_", "-") == "EMPTY-LAYER" for n in layers) else "no"
    lines = [e for e in msp if e.dxftype() in ("LINE", "LWPOLYLINE", "POLYLINE")]
    told["layer of a line"] = next((e.dxf.layer for e in lines if near(start(e), place, size) or near(start(e), end, size)), "not at its place")
    blocks = [b.name for b in doc.blocks]
    told["block name"] = "yes" if "RAIL-POST-5IN" in blocks else "no: " + (", ".join(b for b in blocks if not b.startswith(("*", "_")))[:50] or "no blocks")
    inserts = [e for e in msp if e.dxftype() == "INSERT" and near(e.dxf.insert, post, 0.01 * size)]
    told["INSERT at its place, turned"] = f"yes, {inserts[0].dxf.rotation:g}°, layer {inserts[0].dxf.layer}" if inserts else squares(msp, post, size)
    own = inserts[0].attribs if inserts else []
    loose = [e for e in msp if e.dxftype() == "ATTRIB"]
    asText = found_text(doc, "P1")[0]
    told["ATTRIB ID=P1"] = "yes" + (" (hidden)" if own[0].is_invisible else " (shown)") if own and own[0].dxf.text == "P1" else "loose ATTRIB" if loose else f"as {asText}" if asText != "no" else "no"
    told["unused block"] = "yes" if "RAIL-UNUSED" in blocks else "no"
    told["TEXT in an unused block"] = "yes" if "IN-UNUSED" in raw else "no"
    told["ATTDEF in an unused block"] = "yes" if "ATTDEF-VALUE" in raw else "no"
    told["TEXT in an inserted block"] = found_text(doc, "INSIDE")[0]
    said, entity = found_text(doc, "PLAINTEXT")
    told["TEXT"] = said + (f" at {at(entity)}, layer {entity.dxf.layer}" if entity is not None else "")
    said, entity = found_text(doc, "MIDTEXT")
    told["TEXT middle at 50,20"] = said + (f" at {at(entity)}" if entity is not None else "")
    told["TEXT Ø ° ± 1/2\""] = found_text(doc, "NO Ø ° ± 1/2\"")[0]
    said = found_text(doc, "MULTI|LINE")[0]
    told["MTEXT of two lines"] = said if said != "no" else " + ".join(found_text(doc, word)[0] for word in ["MULTI", "LINE"])
    for layer in ["OFF", "FROZEN", "UNPLOTTED"]:
        said, entity = found_text(doc, f"ON-{layer}")
        state = ""
        if entity is not None and entity.dxf.layer in doc.layers:
            record = doc.layers.get(entity.dxf.layer)
            state = {"OFF": record.is_off(), "FROZEN": record.is_frozen(), "UNPLOTTED": not record.dxf.get("plot", 1)}[layer]
            state = ", still so" if state else ", no longer so"
        told[f"TEXT on a layer {layer.lower()}"] = said + state
    told["TEXT invisible (60)"] = found_text(doc, "INVISIBLE")[0]
    told["TEXT of 250 characters"] = found_text(doc, LONG)[0]
    points = [e for e in msp if e.dxftype() == "POINT" and near(e.dxf.location, (77.25 * size, 88.5 * size), 0.01 * size)]
    told["POINT"] = f"yes, layer {points[0].dxf.layer}" if points else "no"
    closed = [e for e in msp if e.dxftype() in ("LWPOLYLINE", "POLYLINE") and len(e) in (4, 5) and any(near(v, (10 * size, 0), 0.01 * size) for v in corners(e))]
    if closed:
        bulged = any(abs(p[4] if e.dxftype() == "LWPOLYLINE" else p.dxf.bulge) > 0.1 for e in closed for p in (e if e.dxftype() == "LWPOLYLINE" else e.vertices))
        is_closed = any(e.closed if e.dxftype() == "LWPOLYLINE" else e.is_closed for e in closed)
        told["closed polyline with an arc"] = f"{closed[0].dxftype()}, {'closed' if is_closed else 'open'}, {'arc kept' if bulged else 'no arc'}"
    else:
        told["closed polyline with an arc"] = pieces(msp, size)
    told["CIRCLE"] = "yes" if any(e.dxftype() == "CIRCLE" and near(e.dxf.center, (500 * size, 500 * size), 0.01 * size) for e in msp) else "no"
    told["HATCH"] = "yes" if any(e.dxftype() == "HATCH" for e in msp) else "no"
    told["DIMENSION"] = "yes" if any(e.dxftype() == "DIMENSION" for e in msp) else f"exploded, text {found_text(doc, '10000')[0]}"
    told["scaled by"] = f"{size:g}"
    told["largest error of 123.456789012345"] = deviation(msp, place, size)
    if source is not None:
        told["handles kept"], told["order of texts kept"] = kept(doc, ezdxf.readfile(source))
    return told


def start(entity):
    return entity.dxf.start if entity.dxftype() == "LINE" else corners(entity)[0]


def corners(entity):
    if entity.dxftype() == "LWPOLYLINE":
        return [(p[0], p[1]) for p in entity.get_points()]
    return [v.dxf.location for v in entity.vertices]


def near(point, wanted, by):
    return math.dist((point[0], point[1]), wanted) <= by


def at(entity):
    point = entity.dxf.insert
    text = f"{point.x:g},{point.y:g}"
    if entity.dxftype() == "TEXT" and (entity.dxf.halign or entity.dxf.valign):
        align = entity.dxf.get("align_point", point)
        text += f" aligned {align.x:g},{align.y:g}"
    if entity.dxftype() == "MTEXT":
        text += f" attached {entity.dxf.attachment_point}"
    return text


def pieces(msp, size):
    count = collections.Counter()
    for e in msp:
        ends = [e.dxf.start, e.dxf.end] if e.dxftype() == "LINE" else [e.start_point, e.end_point] if e.dxftype() == "ARC" else []
        if ends and all(-5.1 < p[0] / size < 15.1 and -0.1 < p[1] / size < 10.1 for p in ends):
            count[e.dxftype()] += 1
    return " + ".join(f"{n} {kind}" for kind, n in count.items()) or "no"


def squares(msp, post, size):
    """What lies where the block was inserted."""
    count = collections.Counter()
    for e in msp:
        points = corners(e) if e.dxftype() in ("LWPOLYLINE", "POLYLINE") else [e.dxf.start, e.dxf.end] if e.dxftype() == "LINE" else []
        if points and all(near(p, post, 4 * size) for p in points):
            count[e.dxftype(), e.dxf.layer] += 1
    return "exploded to " + " + ".join(f"{n} {kind} on {layer}" for (kind, layer), n in count.items()) if count else "no"


def reach(msp):
    """Ends of all lines."""
    return [p for e in msp if e.dxftype() in ("LINE", "LWPOLYLINE", "POLYLINE") for p in ([e.dxf.start, e.dxf.end] if e.dxftype() == "LINE" else corners(e))]


def scale(msp):
    """By what the drawing grew: its furthest x is 507, of the circle, or 410 of the hatch, 312.5 of a post, 200 of a line."""
    radius = next((e.dxf.radius for e in msp if e.dxftype() == "CIRCLE"), None)
    if radius is not None:
        return radius / 7
    most = max((p[0] for p in reach(msp)), default=507)
    most = max([most] + [p.x for e in msp if e.dxftype() == "SPLINE" for p in map(ezdxf.math.Vec3, e.control_points)])
    return next((f for f in (1, 25.4, 96, 25.4 * 96 / 25.4, 96 / 25.4, 1 / 25.4) if 190 * f < most < 520 * f), most / 507)


def deviation(msp, place, size):
    by = min((math.dist((p[0], p[1]), place) for p in reach(msp)), default=math.inf) / size
    return f"{by:.1e}" if by < 1 else "not at its place"


def kept(doc, source):
    """Whether handles and the order of entities are those of the sample."""
    was = [(e.dxf.handle, e.dxftype()) for e in source.modelspace()]
    now = [(e.dxf.handle, e.dxftype()) for e in doc.modelspace()]
    same = sum(a in now for a in was)
    names = [w for w in (plain(e) for e in texts(source, source.modelspace()))]
    order = [w for w in (plain(e) for e in texts(doc, doc.modelspace())) if w in names]
    return ("yes" if same == len(was) else f"{same} of {len(was)}"), ("yes" if order == [n for n in names if n in order] and order else "texts no longer in order" if order else "no texts")


def one(folder, writer, version):
    source, target = folder / f"sample-{version}.dxf", folder / f"{writer}-{version}.dxf"
    try:
        save_by.save(writer, [(source, target)])
    except save_by.CannotSave as error:
        return {"readable": f"not saved: {error}"[:160]}
    return facts(target, version, source)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=pathlib.Path)
    parser.add_argument("--compare", type=pathlib.Path, help="a page that must hold the tables as they are")
    parser.add_argument("--keep", type=pathlib.Path, help="folder for the drawings")
    parser.add_argument("--writers", nargs="+", default=save_by.WRITERS)
    args = parser.parse_args()
    out = []
    failed = 0
    with tempfile.TemporaryDirectory() as scratch:
        folder = args.keep or pathlib.Path(scratch)
        folder.mkdir(exist_ok=True)
        for version in ["R2000", "R2010"]:
            sample(folder / f"sample-{version}.dxf", version)
            with concurrent.futures.ThreadPoolExecutor(2) as pool:
                columns = dict(zip(args.writers, pool.map(lambda w: one(folder, w, version), args.writers)))
            columns = {"itself": facts(folder / f"sample-{version}.dxf", version)} | columns
            failed += sum("not saved" in told["readable"] for told in columns.values())
            rows = list(dict.fromkeys(key for told in columns.values() for key in told))
            out.append(f"\n## Sample in {version}\n\n| | {' | '.join(columns)} |\n|---{'|---' * len(columns)}|")
            for row in rows:
                cells = [str(told.get(row, "")).replace("|", "\\|").replace("\n", " ") for told in columns.values()]
                out.append(f"| {row} | {' | '.join(cells)} |")
    text = "\n".join(out).strip() + "\n"
    print(text)
    if args.compare and text not in args.compare.read_text():
        sys.exit(f"FAILED {args.compare} holds other tables than these: make them anew with --out")
    if args.out:
        args.out.write_text(text)
    if failed:
        sys.exit(f"FAILED {failed} drawings were not saved")


if __name__ == "__main__":
    main()
