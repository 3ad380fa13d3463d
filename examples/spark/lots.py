"""Invented building lots as records for `plumbrail batch --jsonl`, one in a hundred of them bad.

    python lots.py 10000 > lots.jsonl

The same number gives the same lots on every machine: nothing is drawn by lot, all follows from the number of the record.
"""

import argparse
import json
import sys

# One bad record in so many.
BAD_EACH = 100

# The job passes `--max-record 1MiB --max-work 2000`: a line longer than this is refused, as is a deck of 7.6 km.
TOO_LONG_BYTES = (1 << 20) + 1


def drawing(entities, unit=1):
    """The smallest DXF text with a unit: a header and entities. 1 is inches."""
    head = [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015"), (9, "$INSUNITS"), (70, unit), (0, "ENDSEC")]
    body = [(0, "SECTION"), (2, "ENTITIES"), *(tag for entity in entities for tag in entity), (0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code}\n{value}\n" for code, value in head + body)


def outline(layer, points, closed=True):
    """A polyline."""
    corners = [tag for x, y in points for tag in ((10, x), (20, y))]
    return [(0, "LWPOLYLINE"), (8, layer), (90, len(points)), (70, int(closed)), *corners]


def rectangle(layer, left, low, right, high):
    """A closed box."""
    return outline(layer, [(left, low), (right, low), (right, high), (left, high)])


def post(x, y):
    """A post that stands already."""
    return [(0, "CIRCLE"), (8, "DECK-POST"), (10, x), (20, y), (40, 1.75)]


def stair(middle, width, risers):
    """A flight down from the edge y = 0, with its rise beside it."""
    left, right = middle - width / 2, middle + width / 2
    yield rectangle("STAIR", left, -10 * (risers - 1), right, 0)
    for k in range(1, risers - 1):
        yield [(0, "LINE"), (8, "STAIR"), (10, left), (20, -10 * k), (11, right), (21, -10 * k)]
    yield [(0, "TEXT"), (8, "STAIR"), (10, right + 4), (20, -40), (40, 4), (1, f"{risers}R 7-1/2 x 10")]


def deck(number):
    """The drawing of a good lot: one of five kinds of deck, in sizes that differ. Inches."""
    wide, deep = 144 + 6 * (number * 7 % 41), 96 + 4 * (number * 11 % 29)
    house = rectangle("HOUSE-WALL", -24, deep, wide + 24, deep + 6)
    plain = [(0, 0), (wide, 0), (wide, deep), (0, deep)]
    kind = number % 5
    if kind == 0:
        return drawing([outline("DECK-EDGE", plain), house])
    if kind == 1:
        ell = [(0, 0), (wide, 0), (wide, deep / 2), (wide / 2, deep / 2), (wide / 2, deep), (0, deep)]
        return drawing([outline("DECK-EDGE", ell)])
    if kind == 2:
        cut = [(24, 0), (wide - 24, 0), (wide, 24), (wide, deep), (0, deep), (0, 24)]
        return drawing([outline("DECK-EDGE", cut), house])
    if kind == 3:
        return drawing([outline("DECK-EDGE", plain), house, post(wide / 2, 3), post(wide - 3, deep / 2)])
    return drawing([outline("DECK-EDGE", plain), house, *stair(wide / 2, 48, 4 + number % 7)])


def record(number):
    """A good record as an object."""
    made = {"id": f"lot-{number:06d}", "dxf": deck(number)}
    if number % 3 == 1:
        made["options"] = {"inset": "4in"}
    if number % 7 == 2:
        made["options"] = {"bays": "stock"}
    return made


def bad(number):
    """Kinds of bad records: what stands on the line, the id that it is answered with, and the code of its error."""
    lot = f"lot-{number:06d}"
    square = [(0, 0), (240, 0), (240, 120), (0, 120)]
    good = drawing([outline("DECK-EDGE", square)])
    as_line = lambda **fields: json.dumps({"id": lot, **fields})
    kinds = [
        (json.dumps(record(number))[:-20], None, "bad-json"),
        ("", None, "bad-json"),
        ("[1, 2]", None, "bad-record"),
        (as_line(dxf=good, colour="red"), lot, "bad-record"),
        (as_line(dxf=good, path="lot.dxf"), lot, "bad-record"),
        (as_line(dxf=good, options={"inset": "three"}), lot, "bad-record"),
        (as_line(path="there-is-no-such-lot.dxf"), lot, "unreadable"),
        (as_line(dxf="this is no drawing"), lot, "refused"),
        (as_line(dxf=drawing([outline("DECK-EDGE", square)], unit=0)), lot, "refused"),
        (as_line(dxf=drawing([outline("ROAD", square)])), lot, "refused"),
        (as_line(dxf=drawing([rectangle("DECK-EDGE", 0, 0, 150_000, 120)])), lot, "over-budget"),
        (as_line(dxf=good + "x" * TOO_LONG_BYTES), None, "too-large"),
    ]
    return kinds[number // BAD_EACH % len(kinds)]


def lot(number):
    """Line, id and code of the error of the record with this number; no code where the lot is good."""
    if number % BAD_EACH == BAD_EACH // 2:
        return bad(number)
    made = record(number)
    return json.dumps(made), made["id"], None


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, help="how many lots")
    for number in range(parser.parse_args().count):
        sys.stdout.write(lot(number)[0] + "\n")


if __name__ == "__main__":
    main()
