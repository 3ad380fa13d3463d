"""Runs a command and prints what it took: python benches/peers.py COMMAND...

One line of JSON: seconds on the clock, seconds of processor time (all threads), peak of resident memory in bytes, exit
status. What the command prints is thrown away. `python benches/peers.py ezdxf FILE` is the step of ezdxf itself.
"""

import json
import os
import subprocess
import sys
import time


def main():
    if sys.argv[1] == "ezdxf":
        import ezdxf

        ezdxf.readfile(sys.argv[2])
        return
    start = time.perf_counter()
    child = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    taken = {
        "wall": time.perf_counter() - start,
        "cpu": usage.ru_utime + usage.ru_stime,
        "peak": usage.ru_maxrss * 1024,
        "status": child.returncode,
    }
    print(json.dumps(taken))


if __name__ == "__main__":
    main()
