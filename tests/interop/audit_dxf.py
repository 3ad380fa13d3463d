"""Asks ezdxf and GDAL what is in a DXF file.

    python audit_dxf.py [--expect COUNTS.json] [--prefix RAIL-] FILE...

Fails when ezdxf's audit finds or repairs anything, when GDAL sees other entities in model space than ezdxf does, or when
the counts differ from those expected: {"RAIL-POST": {"INSERT": 4}, ...}, for all layers named there and all layers whose
names begin with the prefix. An INSERT is one, whatever is in its block; so is a DIMENSION.
"""

import argparse
import collections
import json
import sys
import warnings

import ezdxf
import pyogrio
from ezdxf import recover

# GDAL's SubClasses field ends with the marker of the entity's own class (DXF reference, group 100).
GDAL_TYPES = {
    "AcDbLine": "LINE",
    "AcDbPolyline": "LWPOLYLINE",
    "AcDb2dPolyline": "POLYLINE",
    "AcDbCircle": "CIRCLE",
    "AcDbArc": "ARC",
    "AcDbEllipse": "ELLIPSE",
    "AcDbPoint": "POINT",
    "AcDbText": "TEXT",
    "AcDbMText": "MTEXT",
    "AcDbBlockReference": "INSERT",
    "AcDbHatch": "HATCH",
    "AcDbTrace": "SOLID",
}
BINARY = b"AutoCAD Binary DXF"


def ezdxf_counts(path, is_binary):
    """Model space entities per (layer, type), and what the audit says."""
    # The forgiving reader tells what it repaired while loading, but knows ASCII only.
    doc, auditor = (ezdxf.readfile(path), None) if is_binary else recover.readfile(path)
    auditors = [a for a in (auditor, doc.audit()) if a is not None]  # one without errors counts as false
    problems = dict.fromkeys(f"ezdxf: {entry.message}" for a in auditors for entry in [*a.errors, *a.fixes])
    counts = collections.Counter((e.dxf.layer, e.dxftype()) for e in doc.modelspace())
    return counts, list(problems)


def gdal_counts(path):
    """The same by GDAL; the type is None where the file has no subclass markers (R12)."""
    pyogrio.set_gdal_config_options({"DXF_INLINE_BLOCKS": "FALSE"})
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        meta, _, _, columns = pyogrio.raw.read(path, layer="entities", read_geometry=False)
    fields = dict(zip(meta["fields"], columns))
    rows = zip(fields["Layer"], fields["SubClasses"], fields["EntityHandle"], fields["PaperSpace"])
    # GDAL takes a DIMENSION apart, but every part keeps the dimension's handle.
    parts = collections.defaultdict(list)
    for number, (layer, classes, handle, paper) in enumerate(rows):
        if paper != 1:
            kind = GDAL_TYPES.get(classes.split(":")[-1], classes) if classes else None
            parts[handle or f"no handle {number}"].append((layer, kind))
    counts = collections.Counter()
    for features in parts.values():
        layer = next((layer for layer, _ in features if layer.upper() != "DEFPOINTS"), features[0][0])
        kind = features[0][1]
        counts[layer, "DIMENSION" if len(features) > 1 and kind else kind] += 1
    return counts, [f"GDAL: {w.message}" for w in said]


def differences(left, right, left_name, right_name):
    return [f"{key[0]}: {left[key]} {key[1] or 'entities'} by {left_name}, {right[key]} by {right_name}"
            for key in sorted(left.keys() | right.keys(), key=str) if left[key] != right[key]]


def by_layer(counts):
    total = collections.Counter()
    for (layer, _), n in counts.items():
        total[layer, None] += n
    return total


def check(path, expected, prefix):
    """What is wrong with one file, and how many entities were compared."""
    with open(path, "rb") as file:
        is_binary = file.read(len(BINARY)) == BINARY
    seen, problems = ezdxf_counts(path, is_binary)
    if is_binary:
        print(f"{path}: binary, which GDAL does not read; counted by ezdxf only")
    else:
        gdal, said = gdal_counts(path)
        problems += said
        has_types = all(kind for _, kind in gdal)
        known = {*GDAL_TYPES.values(), "DIMENSION"}
        ours = collections.Counter({key: n for key, n in seen.items() if key[1] in known})
        pair = (ours, gdal) if has_types else (by_layer(ours), by_layer(gdal))
        problems += differences(*pair, "ezdxf", "GDAL")
    if expected is not None:
        wanted = collections.Counter({(layer, kind): n for layer, kinds in expected.items() for kind, n in kinds.items()})
        ours = {k: n for k, n in seen.items() if k[0] in expected or (prefix and k[0].startswith(prefix))}
        problems += differences(wanted, collections.Counter(ours), "expectation", "ezdxf")
    return problems, sum(seen.values())


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--expect", help="JSON file with counts per layer and type")
    parser.add_argument("--prefix", default="RAIL-", help="layers that must be expected; '' for only those named")
    parser.add_argument("files", nargs="+")
    args = parser.parse_args()
    expected = None
    if args.expect:
        with open(args.expect, encoding="utf-8") as file:
            expected = json.load(file)
    bad = total = 0
    for path in args.files:
        try:
            problems, count = check(path, expected, args.prefix)
        except (OSError, ezdxf.DXFError, pyogrio.errors.DataSourceError) as error:
            problems, count = [f"cannot be read: {error}"], 0
        for problem in problems:
            print(f"{path}: {problem}", file=sys.stderr)
        bad += bool(problems)
        total += count
    if bad:
        sys.exit(f"FAILED {bad} of {len(args.files)} files")
    print(f"OK {len(args.files)} files, {total} entities in model space")


if __name__ == "__main__":
    main()
