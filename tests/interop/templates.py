"""Measures templates in a finished PDF with a ruler of its own, against the marks of the layout.

templates.py TEMPLATES.pdf LAYOUT.json: every page has a bar of 6 in or 150 mm; on every tile of every layout stick the register
mark of a joint lies where its heading says, from the rail's end; measured from there or from the end itself every baluster, slat,
frame edge, bracket hole, cap screw and block is found at its mark, and nothing else is; rail ends lie as far apart as the rail is
long, and the pointers at angled ends where long and short point are. Holes of cables are at their heights on the posts' faces. All to
0.1 mm, and each mark on at least one tile.
"""

import ctypes
import json
import re
import sys

import pikepdf
import pypdfium2
import pypdfium2.raw as raw

MM = 25.4 / 72
NEAR = 0.1


def multiply(m, n):
    """The matrix that does m, then n."""
    (a, b, c, d, e, f), (g, h, i, j, k, l) = m, n
    return (a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + l)


def paths(page):
    """Strokes and fills of a page in mm: (layer, points, curved, window)."""
    layers = {k: str(v.Name) for k, v in page.Resources.get("/Properties", {}).items()}
    matrix, window, layer, stack, path, curved, box = (1, 0, 0, 1, 0, 0), None, "", [], [], False, None
    at = lambda x, y: tuple(MM * v for v in multiply((1, 0, 0, 1, x, y), matrix)[4:])
    for op in pikepdf.parse_content_stream(page):
        name = str(op.operator)
        if name == "BDC":
            layer = layers[str(op.operands[1])]
            continue
        values = [float(v) for v in op.operands if not isinstance(v, pikepdf.Object)]
        if name == "cm":
            matrix = multiply(values, matrix)
        elif name == "q":
            stack.append((matrix, window))
        elif name == "Q":
            matrix, window = stack.pop()
        elif name == "re":
            x, y, w, h = values
            box = (*at(x, y), *at(x + w, y + h))
        elif name == "W":
            window = box
        elif name in ("m", "l"):
            path.append(at(*values))
        elif name == "c":
            curved = True
            path.append(at(*values[4:]))
        elif name in ("S", "s", "f", "b"):
            yield layer, path, curved, window
            path, curved = [], False


def texts(page):
    """Texts of a page with their box in mm."""
    text = page.get_textpage()
    for thing in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
        size = raw.FPDFTextObj_GetText(thing, text, None, 0)
        buffer = (ctypes.c_ushort * (size // 2))()
        raw.FPDFTextObj_GetText(thing, text, buffer, size)
        content = bytes(buffer).decode("utf-16-le").rstrip("\0 ")
        yield content, [MM * v for v in thing.get_bounds()]


def length(text, unit):
    """A mark as it is written, in mm."""
    if unit == 1:
        return float(text)
    whole, _, part = text.rstrip('"').partition("-")
    if "/" in whole:
        whole, part = "0", whole
    top, _, bottom = part.partition("/")
    return 25.4 * (float(whole) + (float(top) / float(bottom) if bottom else 0))


class Tile:
    """What is seen of a stick on a page."""

    def __init__(self, window, shapes):
        left, low, right, high = self.window = window
        inside = lambda p: left - 0.01 <= p[0] <= right + 0.01 and low - 0.01 <= p[1] <= high + 0.01
        self.tall = high - low
        self.circles, self.uprights, self.pointers, self.slants = {}, {}, [], []
        for layer, points, curved, cut in shapes:
            if cut != window and not all(inside(p) for p in points):
                continue
            if curved:
                xs, ys = [p[0] for p in points], [p[1] for p in points]
                centre = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
                if inside(centre):
                    self.circles.setdefault(layer, []).append(centre)
            elif len(points) == 2 and abs(points[0][0] - points[1][0]) < 1e-3:
                if inside(points[0]) and inside(points[1]):
                    self.uprights.setdefault(layer, []).append((points[0][0], abs(points[0][1] - points[1][1])))
            elif len(points) == 3 and layer == "RAIL-PANEL" and inside(points[0]):
                self.pointers.append(points[0])

    def across(self, layer):
        """Lines over more than half of the stick."""
        return [x for x, tall in self.uprights.get(layer, []) if tall > 0.5 * self.tall]


def found(wanted, seen, origin):
    return any(abs(x - origin - wanted) <= NEAR for x in seen)


def panel_marks(panel, unit):
    """Marks right across, and marks with a circle, in mm."""
    mm = lambda values: [v * unit for v in values]
    across = ("RAIL-LINE", mm(panel["balusters"]["marks"]))
    circles = mm(panel["balusters"]["marks"] + panel["blocks"] + panel["cap_screws"])
    circles += mm([h for bracket in panel["brackets"] for h in bracket["holes"]])
    if cables := panel.get("cables"):
        across = ("RAIL-LINE", mm(cables["slats"]))
        circles += mm(cables["slats"])
    if frames := panel.get("frames"):
        across = ("RAIL-BALUSTER", mm(frames["edges"] + [e + frames["width"] for e in frames["edges"]]))
        circles += mm(frames["clips"])
    return across, circles


def bar(shapes, metric):
    """The longest outline on the foot of a page."""
    wanted = 150.0 if metric else 152.4
    boxes = [p for layer, p, curved, cut in shapes if layer == "RAIL-PANEL" and cut is None and len(p) == 4]
    boxes = [p for p in boxes if max(y for _, y in p) < 20]
    wide = max(max(x for x, _ in p) - min(x for x, _ in p) for p in boxes)
    assert abs(wide - wanted) <= NEAR, f"the bar is {wide} mm long"


def tiles(page, shapes, name, kind):
    """Headings that begin as `kind` says, with what is seen below each: (ids, number, joints, tile)."""
    windows = sorted({cut for *_, cut in shapes if cut}, key=lambda w: -w[3])
    outlines = [p for layer, p, curved, cut in shapes if layer == "RAIL-SHEET" and len(p) == 4 and cut is None]
    windows += [(min(x for x, _ in p), min(y for _, y in p), max(x for x, _ in p), max(y for _, y in p)) for p in outlines]
    for content, (left, low, right, high) in texts(page):
        heading = re.fullmatch(kind + r"(?:, tile (\d+) of (\d+), joins (.*))?", content)
        if not heading:
            continue
        under = [w for w in windows if w[3] < low and -0.5 < w[0] - left < 30]
        assert under, f"{name}: nothing under {content}"
        window = max(under, key=lambda w: w[3])
        joints = {int(t): at for t, at in re.findall(r"tile (\d+) at (\S+)", heading[4] or "")}
        yield heading[1], int(heading[2] or 1), joints, Tile(window, shapes)


def check_tile(tile, number, joints, long, unit, name):
    """Where the rail's left end is on the page, or would be."""
    register = [x for x, _ in tile.circles.get("RAIL-SHEET", [])]
    ends = sorted(tile.across("RAIL-PANEL"))
    marks = {other: length(text, unit) for other, text in joints.items()}
    if number - 1 in marks:
        origin = min(register) - marks[number - 1]
    else:
        origin = ends[0]
    for mark in marks.values():
        assert found(mark, register, origin), f"{name}: no register mark at {mark} of {register} from {origin}"
    assert len(register) == 2 * len(marks), f"{name}: {len(register)} register marks"
    wanted = [x for x in (0.0, long) if tile.window[0] - 0.01 <= origin + x <= tile.window[2] + 0.01]
    assert len(ends) == len(wanted) and all(found(x, ends, origin) for x in wanted), (name, ends, wanted, origin)
    return origin


def points(panel, unit):
    """Tips of the rails at an angled end: half of what long and short point differ by, on both sides of the end."""
    tips = set()
    for cut in panel["cuts"]:
        if cut["member"] in ("bottom-rail", "top-rail") and bool(cut["left"]) != bool(cut["right"]):
            lean = (cut["long_point"] - cut["short_point"]) / 2 * unit
            end = 0.0 if cut["left"] else cut["length"] * unit
            tips |= {end - lean, end + lean}
    return tips


def faces(page, shapes, name, unit, heights):
    """Cable holes on the faces of posts, from the deck or the nosing line: adds them to `heights` by the face's heading."""
    for face, number, joints, tile in tiles(page, shapes, name, r"(F\d+ face of .*?)"):
        register = [x for x, _ in tile.circles.get("RAIL-SHEET", [])]
        marks = {other: length(text, unit) for other, text in joints.items()}
        before = marks.get(number - 1)
        origin = min(register) - before if before is not None else min(tile.across("RAIL-POST"))
        for mark in marks.values():
            assert found(mark, register, origin), f"{name}: no register mark at {mark}"
        heights.setdefault(face, []).extend(x - origin for x, _ in tile.circles.get("RAIL-HOLE", []))


def check_faces(heights, record, unit):
    """Every face has the holes of a panel at one of its posts, and no other; returns how many."""
    for face, seen in heights.items():
        posts = re.findall(r"P\d+", face)
        near = [p for p in record["panels"] if {p["from"], p["to"]} & set(posts) and p.get("cables")]
        wanted = [[h * unit for h in p["cables"]["heights"]] for p in near]
        fits = lambda some: all(found(h, seen, 0) for h in some) and all(found(x, some, 0) for x in seen)
        assert any(fits(some) for some in wanted), f"{face}: holes at {sorted(seen)}, not {wanted}"
    return sum(len(seen) for seen in heights.values())


def main():
    file, record = sys.argv[1], json.load(open(sys.argv[2]))
    unit = {"in": 25.4, "mm": 1}[record["units"]]
    panels = {panel["id"]: panel for panel in record["panels"]}
    seen = {name: set() for name in panels}
    pdf, sight = pikepdf.open(file), pypdfium2.PdfDocument(file)
    measured = sticks = 0
    heights = {}
    stick = r"(S\d+(?:, S\d+)*)(?:: \d+ alike)?"
    for number, page in enumerate(pdf.pages):
        shapes = list(paths(page))
        bar(shapes, unit == 1)
        if any(panel.get("cables") for panel in panels.values()):
            faces(sight[number], shapes, f"page {number + 1}", unit, heights)
        for ids, tile_number, joints, tile in tiles(sight[number], shapes, f"page {number + 1}", stick):
            ids = ids.split(", ")
            name = f"page {number + 1}, {ids[0]} tile {tile_number}"
            sticks += 1
            long = panels[ids[0]]["cuts"][0]["length"] * unit
            origin = check_tile(tile, tile_number, joints, long, unit, name)
            for one in ids:
                (layer, across), circles = panel_marks(panels[one], unit)
                lines, holes = tile.across(layer), [x for x, _ in tile.circles.get("RAIL-HOLE", [])]
                for kind, marks, places in (("across", across, lines), ("hole", circles, holes)):
                    for mark in marks:
                        if tile.window[0] + 0.2 < origin + mark < tile.window[2] - 0.2:
                            assert found(mark, places, origin), f"{name}: no {kind} at {mark} for {one}"
                            seen[one].add((kind, round(mark, 3)))
                            measured += 1
                    for x in places:
                        assert any(abs(x - origin - mark) <= NEAR for mark in marks), f"{name}: a {kind} too many at {x}"
                for tip in points(panels[one], unit) if tile.pointers else ():
                    assert found(tip, [x for x, _ in tile.pointers], origin), f"{name}: no point at {tip}"
                    measured += 1
    for one, panel in panels.items():
        (_, across), circles = panel_marks(panel, unit)
        wanted = {("across", round(m, 3)) for m in across} | {("hole", round(m, 3)) for m in circles}
        assert seen[one] == wanted, f"{one}: not on any tile: {wanted - seen[one]}"
    assert bool(heights) == any(panel.get("cables") for panel in panels.values())
    measured += check_faces(heights, record, unit)
    print(f"OK {len(pdf.pages)} pages, {sticks} pieces of sticks, {len(panels)} panels, {measured} marks within {NEAR} mm")


main()
