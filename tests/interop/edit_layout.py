"""Edits a grafted drawing the way a person would in a CAD program: moves, copies and erases posts, erases panel tags.

    edit_layout.py IN.dxf OUT.dxf [--move P2 DX DY] [--copy P2 DX DY] [--insert X Y] [--erase P3] [--untag S4]
                   [--unframe S5] [--shift DX DY] [--text LAYER TEXT] [--rename LAYER NAME] [--freeze LAYER] [--double]
                   [--unmark] [--unmark-half] [--forget]

Posts and tags are found by the XDATA that the program wrote. `--shift` moves everything in model space. `--text` is a note of the
user's, `--unmark` drops all XDATA as many programs do, `--unmark-half` that of every second thing, `--forget` also the block that
says the same in texts. `--double` adds a copy of all rails without marks. The drawing is saved by ezdxf, so every record comes back
rewritten, as after a save in another program.
"""

import argparse
import sys

import ezdxf


def records(msp, kind, ident=None):
    """Entities of model space whose XDATA says this kind and id."""
    for entity in msp:
        if not entity.has_xdata("PLUMBRAIL"):
            continue
        texts = [tag.value for tag in entity.get_xdata("PLUMBRAIL") if tag.code == 1000]
        if texts[:1] == [kind] and (ident is None or texts[1:2] == [ident]):
            yield entity


def post(msp, ident):
    found = [e for e in records(msp, "post", ident) if e.dxftype() == "INSERT"]
    if len(found) != 1:
        sys.exit(f"there are {len(found)} posts {ident}")
    return found[0]


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("source")
    parser.add_argument("target")
    parser.add_argument("--move", nargs=3, action="append", default=[])
    parser.add_argument("--copy", nargs=3, action="append", default=[])
    parser.add_argument("--insert", nargs=2, action="append", default=[])
    parser.add_argument("--erase", action="append", default=[])
    parser.add_argument("--untag", action="append", default=[])
    parser.add_argument("--unframe", action="append", default=[])
    parser.add_argument("--shift", nargs=2, type=float)
    parser.add_argument("--text", nargs=2, action="append", default=[])
    parser.add_argument("--rename", nargs=2, action="append", default=[])
    parser.add_argument("--freeze", action="append", default=[])
    parser.add_argument("--double", action="store_true")
    parser.add_argument("--unmark", action="store_true")
    parser.add_argument("--unmark-half", action="store_true")
    parser.add_argument("--forget", action="store_true")
    args = parser.parse_args()
    doc = ezdxf.readfile(args.source)
    msp = doc.modelspace()
    done = 0
    for ident, dx, dy in args.copy:
        original = post(msp, ident)
        copy = original.copy()
        msp.add_entity(copy)
        copy.translate(float(dx), float(dy), 0)
        done += 1
    for x, y in args.insert:
        block = next(name for name in (b.name for b in doc.blocks) if name.startswith("RAIL-POST-"))
        msp.add_blockref(block, (float(x), float(y)), dxfattribs={"layer": "RAIL-POST"})
        done += 1
    for ident, dx, dy in args.move:
        post(msp, ident).translate(float(dx), float(dy), 0)
        done += 1
    for ident in args.erase:
        msp.delete_entity(post(msp, ident))
        done += 1
    for ident in args.untag:
        tags = list(records(msp, "tag", ident))
        if len(tags) != 1:
            sys.exit(f"there are {len(tags)} tags {ident}")
        msp.delete_entity(tags[0])
        done += 1
    for ident in args.unframe:
        frames = [e for e in records(msp, "frame", ident) if e.dxftype() == "INSERT" and e.dxf.name.startswith("RAIL-TAG-")]
        if len(frames) != 1 or frames[0].get_attrib_text("ID") != ident or not frames[0].get_attrib_text("SPAN"):
            sys.exit(f"there are {len(frames)} frames {ident} with its id and span")
        msp.delete_entity(frames[0])
        done += 1
    if args.shift:
        for entity in msp:
            entity.translate(args.shift[0], args.shift[1], 0)
            done += 1
    for layer, text in args.text:
        msp.add_text(text, dxfattribs={"layer": layer, "insert": (1, 1), "height": 1})
        done += 1
    for layer, name in args.rename:
        doc.layers.get(layer).rename(name)
        done += 1
    for layer in args.freeze:
        doc.layers.get(layer).freeze()
        done += 1
    marked = [e for e in msp if e.has_xdata("PLUMBRAIL")]
    if args.double:
        for entity in marked:
            copy = entity.copy()
            for part in (copy, *getattr(copy, "attribs", [])):
                part.discard_xdata("PLUMBRAIL")
            msp.add_entity(copy)
            done += 1
    if args.unmark_half:
        for entity in marked[::2]:
            entity.discard_xdata("PLUMBRAIL")
            done += 1
    if args.unmark or args.forget:
        for entity in doc.entitydb.values():
            if entity.has_xdata("PLUMBRAIL"):
                entity.discard_xdata("PLUMBRAIL")
                done += 1
        doc.appids.remove("PLUMBRAIL")
    if args.forget:
        doc.blocks.delete_block("RAIL-MARKS", safe=False)
    doc.saveas(args.target)
    print(f"OK {done} edits")


if __name__ == "__main__":
    main()
