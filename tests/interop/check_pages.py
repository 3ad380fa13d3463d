"""Reads sheets as PDF with qpdf's library and PDFium, and compares them with the same sheets as SVG.

check_pages.py FILE.pdf SHEET.svg...: the file is sound for qpdf; each page is as large as its SVG, to half a µm; layer by
layer the same strokes, circles and texts stand in the same order at the same places, to 2 µm, with the same pens, dashes, inks
and cuts; bookmarks and layers are named alike; every font is embedded, a subset, and says what its characters mean; PDFium
sees each character of each text where the fonts' widths put it.
"""

import io
import math
import re
import sys
import xml.etree.ElementTree as ET

import pikepdf
import pypdfium2
import pypdfium2.raw
from fontTools.ttLib import TTFont

SVG = "{http://www.w3.org/2000/svg}"
POINTS = 72 / 25.4
# SVG and PDF round to a micrometre each, y from opposite edges of the sheet.
NEAR_MM = 0.002


def numbers(text):
    return [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)]


def ink(text):
    return tuple(round(int(text[i : i + 2], 16) / 255, 3) for i in (1, 3, 5))


class SvgSheet:
    """What an SVG shows: (layer, what, numbers, facts) in its order."""

    def __init__(self, path):
        self.root = ET.parse(path).getroot()
        self.title = self.root.find(SVG + "title").text.strip()
        self.width, self.height = (float(self.root.get(k).removesuffix("mm")) for k in ("width", "height"))
        self.cuts = {}
        for clip in self.root.iter(SVG + "clipPath"):
            x, y, w, h = (float(clip[0].get(k)) for k in ("x", "y", "width", "height"))
            self.cuts[f"url(#{clip.get('id')})"] = [x, self.height - y - h, w, h]
        self.shapes = []
        for group in self.root.findall(SVG + "g"):
            self.layer = group.get("id")
            self.colour, self.pen = ink(group.get("stroke")), float(group.get("stroke-width"))
            self.walk(group, None)

    def walk(self, group, cut):
        for node in group:
            kind = node.tag.removeprefix(SVG)
            if kind == "g":
                self.walk(node, self.cuts.get(node.get("clip-path"), cut))
            elif kind == "text":
                self.text(node, cut)
            else:
                self.stroke(node, kind, cut)

    def add(self, what, points, facts, cut):
        flipped = [v if i % 2 == 0 else self.height - v for i, v in enumerate(points)]
        self.shapes.append((self.layer, what, flipped, facts, cut))

    def text(self, node, cut):
        turn = -numbers(node.get("transform"))[0] if node.get("transform") else 0.0
        facts = {
            "text": node.text or "",
            "size": float(node.get("font-size")),
            "turn": turn,
            "bold": node.get("font-weight") == "bold",
            "ink": ink(node.get("fill")),
        }
        anchor = {None: 0.0, "middle": 0.5, "end": 1.0}[node.get("text-anchor")]
        self.add("text", [float(node.get("x")), float(node.get("y"))], {**facts, "anchor": anchor}, cut)

    def stroke(self, node, kind, cut):
        fill, dashes = node.get("fill"), tuple(numbers(node.get("stroke-dasharray", "")))
        paint = "fill" if node.get("stroke") == "none" else "both" if fill == "#ffffff" else "stroke"
        facts = {"paint": paint, "dashes": dashes, "ink": self.colour, "pen": self.pen}
        if kind == "circle":
            cx, cy, r = (float(node.get(k)) for k in ("cx", "cy", "r"))
            self.add("curve", [cx + r, cy, cx + r, cy], {**facts, "closed": True}, cut)
            return
        d = node.get("d")
        if "A" in d:
            start, end = d[1:].split("A")
            self.add("curve", numbers(start) + numbers(end)[-2:], {**facts, "closed": False}, cut)
            return
        # A dimension is one path of several strokes.
        points = numbers(d)
        self.add("path", points, {**facts, "closed": d.endswith("Z"), "pieces": d.count("M")}, cut)


class PdfSheet:
    """The same of a page of a PDF, by a reader of its operators."""

    def __init__(self, pdf, page):
        self.shapes = []
        self.names = {k: str(v.Name) for k, v in page.Resources.get("/Properties", {}).items()}
        self.fonts = {k: Font(v) for k, v in page.Resources.Font.items()}
        self.path, self.what, self.pieces, self.cut, self.dashes, self.closed = [], "path", 0, None, (), False
        self.fill = self.stroke = self.pen = None
        operators = pikepdf.parse_content_stream(page)
        scale = [float(v) for v in operators[0].operands]
        assert str(operators[0].operator) == "cm" and scale[1:3] + scale[4:] == [0, 0, 0, 0], scale
        assert abs(scale[0] - POINTS) < 1e-7 and scale[0] == scale[3], scale
        assert str(operators[1].operator) == "j" and operators[1].operands[0] == 1
        for op in operators[2:]:
            self.operator(str(op.operator), list(op.operands))

    def operator(self, name, operands):
        values = [float(v) for v in operands] if all(not isinstance(v, pikepdf.Object) for v in operands) else []
        if name == "BDC":
            assert operands[0] == "/OC"
            self.layer = self.names[str(operands[1])]
        elif name in ("RG", "rg", "w"):
            setattr(self, {"RG": "stroke", "rg": "fill", "w": "pen"}[name], values[0] if name == "w" else tuple(values))
        elif name == "g":
            self.fill = (values[0],) * 3
        elif name == "d":
            self.dashes = tuple(float(v) for v in operands[0])
        elif name == "re":
            self.cut = values
        elif name == "Q":
            self.cut = None
        elif name in ("m", "l", "c"):
            self.pieces += name == "m"
            self.what = "curve" if name == "c" else self.what
            # Of curves the two ends count.
            self.path = self.path[:2] + values[4:] if name == "c" else self.path + values
        elif name in ("S", "s", "f", "b"):
            paint = {"f": "fill", "b": "both"}.get(name, "stroke")
            colour = self.fill if name == "f" else self.stroke
            assert name != "b" or self.fill == (1.0, 1.0, 1.0)
            facts = {"paint": paint, "dashes": self.dashes, "ink": colour, "pen": self.pen}
            facts["closed"] = name in ("s", "b")
            if self.what == "path":
                facts["pieces"] = self.pieces
            self.shapes.append((self.layer, self.what, self.path, facts, self.cut))
            self.path, self.what, self.pieces = [], "path", 0
        elif name == "Tf":
            self.font, self.size = self.fonts[str(operands[0])], float(operands[1])
        elif name == "Tm":
            self.matrix = values
        elif name == "Tj":
            self.text(bytes(operands[0]))
        else:
            assert name in ("EMC", "q", "W", "n", "BT", "ET"), name

    def text(self, shown):
        numbers = [int.from_bytes(shown[i : i + 2]) for i in range(0, len(shown), 2)]
        a, b, c, d, x, y = self.matrix
        assert abs(a - d) < 1e-6 and abs(b + c) < 1e-6 and abs(math.hypot(a, b) - 1) < 1e-5
        facts = {
            "text": "".join(self.font.meaning[n] for n in numbers),
            "size": self.size,
            "turn": math.degrees(math.atan2(b, a)),
            "bold": "Bold" in self.font.name,
            "ink": self.fill,
        }
        advances = [self.font.widths[n] / 1000 * self.size for n in numbers]
        self.shapes.append((self.layer, "text", [x, y], {**facts, "advances": advances, "along": (a, b)}, self.cut))


class Font:
    def __init__(self, font):
        self.name = str(font.BaseFont)
        assert re.fullmatch(r"/[A-Z]{6}\+DejaVuSansCondensed(-Bold)?", self.name), self.name
        assert font.Subtype == "/Type0" and font.Encoding == "/Identity-H"
        cid = font.DescendantFonts[0]
        assert cid.Subtype == "/CIDFontType2" and cid.BaseFont == font.BaseFont
        first, widths = cid.W
        self.widths = {int(first) + i: float(w) for i, w in enumerate(widths)}
        data = cid.FontDescriptor.FontFile2.read_bytes()
        assert int(cid.FontDescriptor.FontFile2.Length1) == len(data)
        face = TTFont(io.BytesIO(data))
        shapes = cid.CIDToGIDMap.read_bytes()
        glyphs = [int.from_bytes(shapes[2 * n : 2 * n + 2]) for n in self.widths]
        assert max(glyphs) < face["maxp"].numGlyphs < 400, "a subset that holds all that is used"
        for number, glyph in zip(self.widths, glyphs):
            advance = face["hmtx"].metrics[face.getGlyphName(glyph)][0] / face["head"].unitsPerEm * 1000
            assert abs(advance - self.widths[number]) < 0.01, (number, advance)
        cmap = font.ToUnicode.read_bytes().decode("ascii")
        pairs = re.findall(r"<([0-9A-F]{4})> <([0-9A-F]+)>", cmap.split("endcodespacerange")[1])
        self.meaning = {int(n, 16): bytes.fromhex(c).decode("utf-16-be") for n, c in pairs}
        assert set(self.meaning) == set(self.widths)


def near(a, b, within=NEAR_MM):
    return len(a) == len(b) and all(abs(x - y) <= within for x, y in zip(a, b))


def same_shape(svg, pdf):
    """Why two shapes differ."""
    (layer, what, points, facts, cut), (other_layer, other_what, other_points, other, other_cut) = svg, pdf
    if (layer, what) != (other_layer, other_what) or (cut is None) != (other_cut is None):
        return "another kind, layer or cut"
    if cut and not near(cut, other_cut):
        return "another window"
    if what == "text":
        back = facts["anchor"] * sum(other["advances"])
        points = [points[i] - back * other["along"][i] for i in (0, 1)]
        for key, within in (("size", 0.001), ("turn", 0.001)):
            if abs(facts[key] - other[key]) > within:
                return key
        keys = ("text", "bold", "ink")
    else:
        keys = ("paint", "dashes", "closed") + (("pieces",) if what == "path" else ())
        keys += ("ink",) if facts["paint"] == "fill" else ("ink", "pen")
    if differ := [k for k in keys if facts[k] != other[k] and not (k == "closed" and facts["paint"] == "fill")]:
        return ", ".join(differ)
    # The font size is rounded to a micrometre, and with it the width of the text that was centred.
    slack = back * 0.0006 / other["size"] if what == "text" else 0.0
    if not near(points, other_points, NEAR_MM + slack):
        return "place"
    return None


def pdfium_sees(page, shapes, scale, name):
    """Every character of every text at its origin; returns how many."""
    text, raw = page.get_textpage(), pypdfium2.raw
    seen = {}
    x, y = pypdfium2.raw.c_double(), pypdfium2.raw.c_double()
    for i in range(text.count_chars()):
        raw.FPDFText_GetCharOrigin(text, i, x, y)
        seen.setdefault(chr(raw.FPDFText_GetUnicode(text, i)), []).append((x.value, y.value))
    found = 0
    for _, what, (at_x, at_y), facts, _ in shapes:
        run = 0.0
        for index, (char, advance) in enumerate(zip(facts["text"], facts["advances"])):
            place = [(at + run * along) * scale for at, along in zip((at_x, at_y), facts["along"])]
            run += advance
            # It cuts widths to whole thousandths of the font size.
            slack = 0.01 + 0.001 * index * facts["size"] * scale
            # PDFium tells characters beyond the first plane in two halves.
            if char.isspace() or ord(char) > 0xFFFF:
                continue
            if not any(near(place, other, slack) for other in seen.get(char, [])):
                sys.exit(f"{name}: PDFium sees no {char!r} of {facts['text']!r} at {place}: {seen.get(char)}")
            found += 1
    return found


def main():
    file, sheets = sys.argv[1], [SvgSheet(path) for path in sys.argv[2:]]
    pdf = pikepdf.open(file)
    if problems := pdf.check_pdf_syntax():
        sys.exit(f"qpdf: {problems}")
    seen = pypdfium2.PdfDocument(file)
    assert len(pdf.pages) == len(seen) == len(sheets), (len(pdf.pages), len(seen), len(sheets))
    assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
    assert "/CreationDate" not in pdf.docinfo and "/ModDate" not in pdf.docinfo
    with pdf.open_outline() as outline:
        assert [o.title for o in outline.root] == [s.title for s in sheets]
    groups = [str(g.Name) for g in pdf.Root.OCProperties.D.Order]
    strokes = texts = chars = 0
    for number, (svg, page) in enumerate(zip(sheets, pdf.pages)):
        name = f"sheet {number + 1}"
        size = [svg.width * POINTS, svg.height * POINTS]
        for box in (page.MediaBox, page.TrimBox):
            assert near([float(v) for v in box], [0, 0, *size], 0.0015), (name, box, size)
        assert near(seen[number].get_size(), size, 0.0015)
        shapes = PdfSheet(pdf, page).shapes
        if len(shapes) != len(svg.shapes):
            sys.exit(f"{name}: {len(svg.shapes)} shapes in SVG, {len(shapes)} in PDF")
        for one, other in zip(svg.shapes, shapes):
            if why := same_shape(one, other):
                sys.exit(f"{name}: {why}\n  SVG {one}\n  PDF {other}")
        layers = list(dict.fromkeys(shape[0] for shape in shapes))
        assert layers == [g for g in groups if g in layers], (layers, groups)
        lettered = [s for s in shapes if s[1] == "text"]
        strokes, texts = strokes + len(shapes) - len(lettered), texts + len(lettered)
        chars += pdfium_sees(seen[number], lettered, POINTS, name)
        picture = seen[number].render(scale=0.5).to_numpy()
        assert (picture < 128).any(), f"{name}: an empty picture"
    print(f"OK {len(sheets)} sheets, {strokes} strokes, {texts} texts, {chars} characters")


main()
