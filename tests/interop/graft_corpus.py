"""Asks ezdxf and GDAL whether drawings are as good with the rails in them as they were before.

    python graft_corpus.py --before DIR --after DIR

For each BEFORE/x.dxf and AFTER/x.rail.dxf: ezdxf reads the second if it reads the first, its audit finds nothing that it
did not find before, and the user's entities are all there, in every layout and block; GDAL reads as many features as
before on each layer of the user's, and others on ours.
"""

import argparse
import collections
import logging
import pathlib
import re
import sys
import warnings

import ezdxf
import pyogrio
from ezdxf import recover

logging.getLogger("ezdxf").setLevel(logging.CRITICAL)

BINARY = b"AutoCAD Binary DXF"
OURS = "RAIL-"


def is_binary(path):
    with open(path, "rb") as file:
        return file.read(len(BINARY)) == BINARY


def load(path):
    """The drawing, and what is wrong with it: messages without the handles and numbers in them."""
    if is_binary(path):
        doc, problems = ezdxf.readfile(path), []
    else:
        doc, auditor = recover.readfile(path)
        problems = [*auditor.errors, *auditor.fixes]
    auditor = doc.audit()
    problems += [*auditor.errors, *auditor.fixes]
    return doc, collections.Counter(re.sub(r"#?\b[0-9A-F]*[0-9][0-9A-F]*\b", "#", entry.message) for entry in problems)


def is_ours(entity):
    return entity.has_xdata("PLUMBRAIL")


def contents(doc):
    """How many entities of which kind and layer stand in which block; ours left out."""
    counts = collections.Counter()
    for block in doc.blocks:
        if block.block.has_xdata("PLUMBRAIL"):
            continue
        for entity in block:
            if not is_ours(entity):
                layer = entity.dxf.layer if entity.dxf.is_supported("layer") else None
                counts[block.name, entity.dxftype(), layer] += 1
    return counts


def ezdxf_differs(before, after):
    """What is worse than before, and how many entities were compared."""
    try:
        old, old_problems = load(before)
    except (ezdxf.DXFError, OSError) as error:
        return [f"ezdxf does not read it without the rails either: {error}"], 0
    new, new_problems = load(after)
    problems = [f"ezdxf: {message} ({n} more)" for message, n in (new_problems - old_problems).items()]
    old_contents, new_contents = contents(old), contents(new)
    if not old_contents:
        print(f"{before.name}: ezdxf sees nothing in it, with or without the rails; not compared by ezdxf")
        return problems, 0
    for key in old_contents.keys() | new_contents.keys():
        if old_contents[key] != new_contents[key]:
            problems.append(f"ezdxf: {key}: {old_contents[key]} before, {new_contents[key]} after")
    if not any(is_ours(entity) for entity in new.modelspace()):
        problems.append("ezdxf: no rails in model space")
    return problems, sum(old_contents.values())


def features(path):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        meta, _, geometry, columns = pyogrio.raw.read(path, layer="entities")
    layers = columns[list(meta["fields"]).index("Layer")]
    return collections.Counter(layer for layer, shape in zip(layers, geometry) if shape is not None)


def gdal_differs(before, after):
    if is_binary(before):
        return [], 0
    try:
        old = features(before)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError):
        old = None  # then it need not read the other one
    try:
        new = features(after)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        return ([] if old is None else [f"GDAL: {error}"]), 0
    if old is None:
        return [], 0
    ours = {layer for layer in new if layer.startswith(OURS)}
    problems = [f"GDAL: layer {layer}: {old[layer]} features before, {new[layer]} after"
                for layer in (old.keys() | new.keys()) - ours if old[layer] != new[layer]]
    if not ours:
        problems.append("GDAL: no rails")
    return problems, sum(old.values())


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--before", type=pathlib.Path, required=True)
    parser.add_argument("--after", type=pathlib.Path, required=True)
    args = parser.parse_args()
    files = sorted(args.before.glob("*.dxf"))
    bad = entities = seen = 0
    for before in files:
        after = args.after / f"{before.stem}.rail.dxf"
        try:
            problems, count = ezdxf_differs(before, after)
            more, count_seen = gdal_differs(before, after)
        except (ezdxf.DXFError, OSError) as error:
            problems, more, count, count_seen = [f"cannot be read: {error}"], [], 0, 0
        for problem in problems + more:
            print(f"{before.name}: {problem}", file=sys.stderr)
        bad += bool(problems + more)
        entities += count
        seen += count_seen
    if bad or not files:
        sys.exit(f"FAILED {bad} of {len(files)} drawings")
    print(f"OK {len(files)} drawings, {entities} entities by ezdxf and {seen} features by GDAL as before")


if __name__ == "__main__":
    main()
