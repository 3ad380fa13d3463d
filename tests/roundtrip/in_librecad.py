"""Drives LibreCAD's window within a display of its own: opens each drawing, File > Save As, until it is written.

    in_librecad.py FOLDER IN.dxf OUT.dxf [IN.dxf OUT.dxf ...]

Called by save_by.py under xvfb-run. Each step waits for what it brings about: the window's title names the drawing, the
dialog is there, the title names the new file. A key that was pressed before a window took it is pressed again, and a
program that ended by itself is started again.
"""

import pathlib
import shutil
import subprocess
import sys
import time

SECONDS = 15
# Once in the first 120 starts no window came; why was not found. What stays away four times is an error.
STARTS = 4
DIALOG = "Save Drawing As"


def xdotool(*arguments):
    return subprocess.run(["xdotool", *map(str, arguments)], capture_output=True, text=True, timeout=SECONDS).stdout.strip()


def window(title):
    """The visible window with that in its title."""
    return (xdotool("search", "--onlyvisible", "--name", title) or "").split("\n")[0] or None


class NotYet(Exception):
    """A step did not bring about what it waits for."""


def until(what, found, program, seconds=SECONDS):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if value := found():
            return value
        if program.poll() is not None:
            raise NotYet("LibreCAD ended")
        time.sleep(0.05)
    if what is None:
        return None
    raise NotYet(f"{what} within {seconds} s")


def dialog(main, program):
    for _ in range(10):
        xdotool("windowfocus", "--sync", main)
        xdotool("key", "alt+f")
        xdotool("key", "a")
        if found := until(None, lambda: window(DIALOG), program, 2):
            return found
        xdotool("key", "Escape")
    raise NotYet(f"no dialog {DIALOG!r} came")


def saved(folder, source, target, number):
    # Short names of its own in the title, and no question whether to overwrite.
    opened, written = folder / f"opened-{number}.dxf", folder / f"written-{number}.dxf"
    shutil.copy(source, opened)
    for attempt in range(STARTS):
        with open(folder / "librecad.log", "w") as log:
            program = subprocess.Popen(["librecad", opened], stdout=log, stderr=log, cwd=folder)
        try:
            save_as(program, opened, written)
            break
        except NotYet as error:
            said = (folder / "librecad.log").read_text(errors="replace")[-300:]
            problem = f"{source.name}: {error}; exit status {program.poll()}; {said}"
            print(f"start {attempt + 1}: {problem}", file=sys.stderr)
        finally:
            program.kill()
            program.wait()
    else:
        sys.exit(problem)
    shutil.move(written, target)


def save_as(program, opened, written):
    main = until("LibreCAD's window did not come", lambda: window(rf"LibreCAD - \[{opened.name}\]"), program)
    asked = dialog(main, program)
    for _ in range(5):
        xdotool("windowfocus", "--sync", asked)
        xdotool("key", "ctrl+a")
        xdotool("type", "--delay", "4", written)
        xdotool("key", "Return")
        if until(None, lambda: window(rf"\[{written.name}\]"), program, 4):
            break
    until("LibreCAD did not write", lambda: written.exists() and b"EOF" in written.read_bytes()[-10:], program)


def main():
    folder, *paths = map(pathlib.Path, sys.argv[1:])
    for number, (source, target) in enumerate(zip(paths[::2], paths[1::2])):
        saved(folder, source, target, number)


if __name__ == "__main__":
    main()
