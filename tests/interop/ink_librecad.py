"""Compares what LibreCAD draws of whole.dxf with our own picture of it, layer by layer.

    python ink_librecad.py FOLDER

FOLDER has whole.dxf, the same drawing as whole.svg with a group for each layer, and without-LAYER.dxf for each layer.
LibreCAD's converter draws the DXF on its page, whose scale is found by matching the two pictures. Then the picture is cut
into cells of CELL_MM, and of each layer those cells count in which it alone has ink: LibreCAD must have ink in LEAST of
them, and no more than MOST of the cells that ours leaves white, with their neighbours, may be inked. Each drawing without a
layer must fail for that layer. Needs `librecad`, `rsvg-convert` and `pdftoppm`; without one of them the check fails.
"""

import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

import numpy as np

SECONDS = 300
PROGRAMS = ["librecad", "rsvg-convert", "pdftoppm"]
# Of the page that LibreCAD makes.
DPI = 300
# Cells on our paper: larger than a pen and the error of the matching, smaller than what stands apart in the drawing.
CELL_MM = 1.5
# Measured: each layer that is drawn has all of its cells (1.000), texts too, though in another font; one that is taken away
# has those that its neighbours' pens and longer texts reach, 0.58 at most. Of our white cells 0.001 have ink: texts that
# run longer in that font.
LEAST = 0.9
MOST = 0.02
# Fewer cells of its own tell nothing of a layer.
FEWEST = 12
SVG = "{http://www.w3.org/2000/svg}"


def run(*command, folder):
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "XDG_RUNTIME_DIR": str(folder)}
    try:
        ended = subprocess.run([str(c) for c in command], env=environment, capture_output=True, timeout=SECONDS)
    except subprocess.TimeoutExpired:
        sys.exit(f"FAILED {command[0]} did not end within {SECONDS} s")
    if ended.returncode:
        sys.exit(f"FAILED {command[0]}: {ended.stderr.decode(errors='replace')[-300:]}")


def raster(pdf, dpi, folder):
    """Ink of a page, 0 to 1."""
    run("pdftoppm", "-gray", "-singlefile", "-r", f"{dpi:.4f}", pdf, folder / "page", folder=folder)
    data = (folder / "page.pgm").read_bytes()
    width, height = map(int, data.split(None, 3)[1:3])
    return 1 - np.frombuffer(data[-width * height:], np.uint8).reshape(height, width) / 255


def drawn(dxf, folder):
    """LibreCAD's page."""
    run("librecad", "dxf2pdf", "-a", "-m", "-t", folder, dxf, folder=folder)
    return raster(folder / f"{dxf.stem}.pdf", DPI, folder)


def offset(part, whole):
    """Where a part fits best (row, column), and how well."""
    size = [a + b for a, b in zip(part.shape, whole.shape)]
    found = np.fft.irfft2(np.fft.rfft2(whole, size) * np.conj(np.fft.rfft2(part, size)), size)
    at = np.unravel_index(found.argmax(), found.shape)
    return [int(i if i < whole.shape[n] else i - size[n]) for n, i in enumerate(at)], found.max() / (np.linalg.norm(part) * np.linalg.norm(whole))


def layers(svg, folder):
    """A PDF of each layer alone."""
    tree = ET.parse(svg)
    groups = [g for g in tree.getroot().iter(f"{SVG}g") if (g.get("id") or "").startswith("RAIL-")]
    pdfs = {}
    for name in dict.fromkeys(g.get("id") for g in groups):
        tree = ET.parse(svg)
        for parent in list(tree.getroot().iter()):
            for child in list(parent):
                other = child.get("id") or ""
                if child.tag == f"{SVG}g" and other.startswith("RAIL-") and other != name:
                    parent.remove(child)
        path = folder / f"{name}.svg"
        tree.write(path)
        pdfs[name] = path.with_suffix(".pdf")
        run("rsvg-convert", "-f", "pdf", "-o", pdfs[name], path, folder=folder)
    return pdfs


def matched(pdf, page, folder):
    """Resolution at which our picture has the size of LibreCAD's, and where it lies on the page."""
    # Coarsely over all scales that the page allows, then by the two ends of the drawing.
    small = page[: page.shape[0] // 8 * 8, : page.shape[1] // 8 * 8]
    small = small.reshape(small.shape[0] // 8, 8, -1, 8).mean(axis=(1, 3))
    ours = raster(pdf, 10, folder)
    # The page holds the drawing's longer side.
    guess = 10 * min(there / here for there, here in zip(small.shape, ours.shape))
    axis = int(ours.shape[1] > ours.shape[0])
    dpi = max((offset(raster(pdf, d, folder), small)[1], d) for d in guess * np.linspace(0.94, 1.06, 61))[1] * 8

    def thirds(ours):
        third = ours.shape[axis] // 3
        return (ours[:, :third], ours[:, -third:]) if axis else (ours[:third], ours[-third:])

    for _ in range(2):
        ours = raster(pdf, dpi, folder)
        first, last = (offset(part, page)[0][axis] for part in thirds(ours))
        dpi *= (last - first) / (ours.shape[axis] - ours.shape[axis] // 3)
    ours = raster(pdf, dpi, folder)
    return dpi, offset(thirds(ours)[0], page)[0]


def placed(ours, at, shape):
    """Our picture on LibreCAD's page."""
    out = np.zeros(shape)
    top, left = at
    rows = slice(max(top, 0), min(top + ours.shape[0], shape[0]))
    columns = slice(max(left, 0), min(left + ours.shape[1], shape[1]))
    out[rows, columns] = ours[rows.start - top: rows.stop - top, columns.start - left: columns.stop - left]
    return out


def cells(page, size):
    """Whether each cell has ink: a pen's breadth in its length."""
    rows, columns = (int(n // size) for n in page.shape)
    edges = [np.round(np.arange(n + 1) * size).astype(int) for n in (rows, columns)]
    sums = np.add.reduceat(np.add.reduceat(page, edges[0][:-1], axis=0), edges[1][:-1], axis=1)
    return sums > size * 0.25


def grown(mask):
    """The cells and their neighbours."""
    wide = np.pad(mask, 1)
    n, m = mask.shape
    return np.logical_or.reduce([wide[i: i + n, j: j + m] for i in range(3) for j in range(3)])


def shares(page, own, size):
    """Share of each layer's own cells that have ink, and of our white cells that have."""
    inked = grown(cells(page, size))
    found = {name: (inked[mask].mean() if mask.any() else 0, int(mask.sum())) for name, mask in own.items() if name}
    return found, cells(page, size)[own[None]].mean()


def main():
    folder = pathlib.Path(sys.argv[1])
    for program in PROGRAMS:
        if shutil.which(program) is None:
            sys.exit(f"FAILED there is no program {program}")
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        page = drawn(folder / "whole.dxf", scratch)
        whole = scratch / "whole.pdf"
        run("rsvg-convert", "-f", "pdf", "-o", whole, folder / "whole.svg", folder=scratch)
        dpi, at = matched(whole, page, scratch)
        size = CELL_MM / 25.4 * dpi
        masks = {name: cells(placed(raster(pdf, dpi, scratch), at, page.shape), size) for name, pdf in layers(folder / "whole.svg", scratch).items()}
        own = {name: mask & ~grown(np.logical_or.reduce([m for n, m in masks.items() if n != name])) for name, mask in masks.items()}
        own[None] = ~grown(grown(np.logical_or.reduce(list(masks.values()))))
        found, beside = shares(page, own, size)
        problems = []
        print(f"ink where ours has none: {beside:.4f} of the white cells")
        if beside > MOST:
            problems.append(f"ink in {beside:.3f} of the white cells")
        told = 0
        for name, (share, count) in found.items():
            if count < FEWEST:
                print(f"{name}: only {count} cells of its own, which tell nothing")
                continue
            without, _ = shares(drawn(folder / f"without-{name}.dxf", scratch), own, size)
            print(f"{name}: {share:.3f} of {count} cells; {without[name][0]:.3f} without the layer")
            told += 1
            if share < LEAST:
                problems.append(f"{name} shows in {share:.3f} of its cells only")
            if without[name][0] >= LEAST:
                problems.append(f"{name} was taken away, and the check did not see it")
        if problems or told < len(found) // 2:
            sys.exit("FAILED " + "; ".join(problems or [f"only {told} layers could be told"]))
        print(f"OK {told} of {len(found)} layers drawn by LibreCAD where our picture has them")


if __name__ == "__main__":
    main()
