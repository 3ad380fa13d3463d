"""Times ezdxf on the drawing that `cargo bench` has written: python benches/peers.py [FILE]"""

import pathlib
import sys
import time

import ezdxf

DEFAULT = pathlib.Path(__file__).resolve().parents[1] / "target/bench/plan.dxf"


def main():
    path = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else DEFAULT
    size = path.stat().st_size / 1e6
    start = time.perf_counter()
    doc = ezdxf.readfile(path)
    read = time.perf_counter() - start
    start = time.perf_counter()
    doc.saveas(path.with_suffix(".ezdxf.dxf"))
    save = time.perf_counter() - start
    print(f"{path.name}: {size:.1f} MB, {len(doc.modelspace())} entities")
    print(f"ezdxf readfile {read:.2f} s, {size / read:.1f} MB/s; saveas {save:.2f} s, {size / save:.1f} MB/s")


if __name__ == "__main__":
    main()
