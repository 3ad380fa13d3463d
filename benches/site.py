"""Writes a plan of so many decks with stairs, in a square: `site.py COUNT > site.dxf`. The same bytes for the same count."""

import sys


def polyline(layer, points, closed):
    groups = [(0, "LWPOLYLINE"), (100, "AcDbEntity"), (8, layer), (100, "AcDbPolyline"), (90, len(points)), (70, int(closed))]
    return groups + [group for x, y in points for group in ((10, x), (20, y))]


def deck(x, y):
    """A deck of 12 by 8 ft before a wall, a flight of eleven risers down from its front. A thousand have less than 10 km of edge."""
    at = lambda points: [(x + dx, y + dy) for dx, dy in points]
    yield from polyline("DECK-EDGE", at([(0, 96), (0, 0), (144, 0), (144, 96)]), False)
    yield from polyline("WALL", at([(-24, 96), (168, 96), (168, 102), (-24, 102)]), True)
    yield from polyline("STAIR", at([(48, -100), (96, -100), (96, 0), (48, 0)]), True)
    for step in range(10, 100, 10):
        yield from polyline("STAIR", at([(48, -step), (96, -step)]), False)
    text = [(0, "TEXT"), (100, "AcDbEntity"), (8, "STAIR"), (100, "AcDbText"), (10, x + 62), (20, y - 60), (40, 4)]
    yield from text + [(1, "DN 11R @ 7\""), (100, "AcDbText")]


def main():
    count = int(sys.argv[1])
    across = max(1, round(count**0.5))
    groups = [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015"), (9, "$INSUNITS"), (70, 1), (0, "ENDSEC")]
    groups += [(0, "SECTION"), (2, "ENTITIES")]
    for number in range(count):
        groups += deck(number % across * 480, number // across * 420)
    groups += [(0, "ENDSEC"), (0, "EOF")]
    sys.stdout.write("".join(f"{code}\n{value}\n" for code, value in groups))


main()
