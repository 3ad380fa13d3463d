"""Attaches a drawing to a plan as an external reference, and binds it, as a CAD program does (xref module of ezdxf).

    attach_layout.py PLAN.dxf LAYOUT.dxf ATTACHED.dxf BOUND.dxf EXPLODED.dxf

All five lie in one folder. ATTACHED names LAYOUT, BOUND holds it as a block, with its layers as `reference$0$layer`, and in
EXPLODED that block is taken apart.
"""

import os
import pathlib
import sys

import ezdxf
from ezdxf import xref


def main():
    plan, layout, attached, bound, exploded = (pathlib.Path(name) for name in sys.argv[1:])
    os.chdir(plan.parent)
    doc = ezdxf.readfile(plan)
    insert = xref.attach(doc, block_name=layout.stem, filename=layout.name)
    doc.saveas(attached)
    xref.embed(doc.blocks.get(layout.stem))
    doc.saveas(bound)
    insert.explode()
    doc.saveas(exploded)
    print("OK 3 drawings")


if __name__ == "__main__":
    main()
