# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
"""A small reader of DXF drawings with rails in them: gives what stands on layers of ours as lines, arcs, fills and texts."""

import math
import re
import struct

# Blocks of ours stand at most two deep.
DEEPEST = 8


class Item:
    """Something to draw: a line of points with bulges, a circle, or a text. Lengths are drawing units."""

    def __init__(self, kind, layer, owner, points, bulges=(), closed=False, radius=0.0, text="", height=0.0, turn=0.0):
        self.kind, self.layer, self.owner = kind, layer, owner
        self.points, self.bulges, self.closed = points, bulges, closed
        self.radius, self.text, self.height, self.turn = radius, text, height, turn


def tags(data):
    """Group codes and values of a drawing's bytes."""
    if data.startswith(b"AutoCAD Binary DXF\r\n\x1a\x00"):
        return list(binary(data))
    lines = data.decode("utf-8", "replace").split("\n")
    return [(int(code), value.strip("\r\n").strip()) for code, value in zip(lines[::2], lines[1::2])]


def binary(data):
    """The same of a binary drawing: codes of one byte up to R12, of two from R13."""
    at, end = 22, len(data)
    is_wide = data[23:24] == b"\0"
    while at < end:
        code = data[at]
        at += 1
        if is_wide:
            code += data[at] << 8
            at += 1
        elif code == 255:
            code = struct.unpack_from("<H", data, at)[0]
            at += 2
        if 10 <= code <= 59 or 110 <= code <= 149 or 210 <= code <= 239 or 460 <= code <= 469 or 1010 <= code <= 1059:
            size, form = 8, "<d"
        elif 60 <= code <= 79 or 170 <= code <= 179 or 270 <= code <= 289 or 370 <= code <= 389 or 400 <= code <= 409 \
                or 1060 <= code <= 1070:
            size, form = 2, "<h"
        elif 90 <= code <= 99 or 420 <= code <= 429 or 440 <= code <= 459 or code == 1071:
            size, form = 4, "<i"
        elif 160 <= code <= 169:
            size, form = 8, "<q"
        elif 290 <= code <= 299:
            size, form = 1, "<b"
        elif 310 <= code <= 319 or code == 1004:
            at += 1 + data[at]
            continue
        else:
            stop = data.index(b"\0", at)
            yield code, data[at:stop].decode("utf-8", "replace")
            at = stop + 1
            continue
        yield code, str(struct.unpack_from(form, data, at)[0])
        at += size


class Record:
    """One record: its kind and its groups; vertices and attributes stand below their head."""

    def __init__(self, kind):
        self.kind, self.groups, self.below = kind, [], []

    def text(self, code, default=""):
        return next((v for c, v in self.groups if c == code), default)

    def number(self, code, default=0.0):
        value = self.text(code, None)
        return default if value is None else float(value)

    def point(self, code=10):
        return (self.number(code), self.number(code + 10))

    def owner(self):
        """Kind and id of what it shows in the layout."""
        names = [c == 1001 and v == "PLUMBRAIL" for c, v in self.groups]
        if True not in names:
            return None
        after = [v for c, v in self.groups[names.index(True) :] if c == 1000]
        return tuple(after[:2]) if len(after) > 1 else None


def sections(data):
    """Blocks by name, and the entities."""
    blocks, entities, section, block, head, record = {}, [], "", None, None, None
    for code, value in tags(data):
        if code == 0:
            record = Record(value)
            if value in ("VERTEX", "ATTRIB") and head is not None:
                head.below.append(record)
                continue
            head = record if value in ("POLYLINE", "INSERT") else None
            if value == "BLOCK":
                block = []
            elif value == "ENDBLK":
                block = None
            elif section == "BLOCKS" and block is not None:
                block.append(record)
            elif section == "ENTITIES" and value not in ("SECTION", "ENDSEC", "SEQEND"):
                entities.append(record)
        elif record is not None:
            if record.kind == "SECTION" and code == 2 and not record.groups:
                section = value
            if record.kind == "BLOCK" and code == 2 and block is not None and value not in blocks:
                blocks[value] = block
            record.groups.append((code, value))
    return blocks, entities


def rails(data):
    """What our records show, in the order of the drawing."""
    blocks, entities = sections(data)
    out = []
    for record in entities:
        owner = record.owner()
        if owner is not None:
            out += items(record, record.text(8), owner, blocks, Move(), 0)
    return out


class Move:
    """Where a block is put: scale, turn, then shift."""

    def __init__(self, x=0.0, y=0.0, sx=1.0, sy=1.0, turn=0.0, base=(0.0, 0.0)):
        self.x, self.y, self.sx, self.sy, self.turn, self.base = x, y, sx, sy, turn, base

    def __call__(self, point):
        px, py = (point[0] - self.base[0]) * self.sx, (point[1] - self.base[1]) * self.sy
        c, s = math.cos(self.turn), math.sin(self.turn)
        return (self.x + px * c - py * s, self.y + px * s + py * c)


def plain(text):
    """A text without the code by which older versions write a character."""
    return re.sub(r"\\U\+([0-9A-Fa-f]{4})", lambda found: chr(int(found[1], 16)), text).replace("\\P", "\n")


def items(record, layer, owner, blocks, move, depth):
    """Items of one record."""
    kind = record.kind
    if kind == "LINE":
        return [Item("line", layer, owner, [move(record.point(10)), move(record.point(11))], [0.0])]
    if kind == "LWPOLYLINE":
        points, bulges = [], []
        for code, value in record.groups:
            if code == 10:
                points.append([float(value), 0.0])
                bulges.append(0.0)
            elif code == 20 and points:
                points[-1][1] = float(value)
            elif code == 42 and points:
                bulges[-1] = float(value)
        is_closed = int(record.number(70)) & 1 == 1
        return [Item("line", layer, owner, [move(p) for p in points], bulges, is_closed)]
    if kind == "POLYLINE":
        points = [move(v.point()) for v in record.below]
        bulges = [v.number(42) for v in record.below]
        return [Item("line", layer, owner, points, bulges, int(record.number(70)) & 1 == 1)]
    if kind == "SOLID":
        # The third and fourth corner stand crosswise.
        corners = [record.point(10), record.point(11), record.point(13), record.point(12)]
        return [Item("fill", layer, owner, [move(p) for p in corners], [0.0] * 4, True)]
    if kind == "CIRCLE":
        return [Item("circle", layer, owner, [move(record.point())], radius=record.number(40) * abs(move.sx))]
    if kind == "ARC":
        centre, radius = record.point(), record.number(40)
        start, end = math.radians(record.number(50)), math.radians(record.number(51))
        end += 2 * math.pi if end <= start else 0.0
        at = [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in (start, end)]
        return [Item("line", layer, owner, [move(p) for p in at], [math.tan((end - start) / 4)])]
    if kind in ("TEXT", "MTEXT"):
        at = record.point(11) if kind == "TEXT" and record.text(11) else record.point(10)
        turn = record.number(50) + math.degrees(move.turn)
        return [Item("text", layer, owner, [move(at)], text=plain(record.text(1)), height=record.number(40), turn=turn)]
    if kind in ("INSERT", "DIMENSION") and depth < DEEPEST:
        inner = move
        if kind == "INSERT":
            x, y = record.point()
            inner = Move(x, y, record.number(41, 1.0), record.number(42, 1.0), math.radians(record.number(50)))
        out = []
        for below in blocks.get(record.text(2), []):
            out += items(below, layer, owner, blocks, inner, depth + 1)
        return out
    return []
