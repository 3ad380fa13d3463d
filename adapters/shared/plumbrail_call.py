# plumbrail adapter file: written by "plumbrail adapters install", taken away by "plumbrail adapters remove".
"""Finds the program and calls it: a deck plan goes in, the wanted file and messages come out. Standard library only."""

import json
import os
import shutil
import subprocess

# The program that installed this file. Where it is no more, PATH is searched.
PROGRAM = "@PROGRAM@"

# A large plan takes seconds; what takes longer than this hangs.
SECONDS = 300

NOT_FOUND = (
    "the program plumbrail was not found{at}\n"
    "  hint: put it on your PATH, or run `plumbrail adapters install` again from where it is now"
)


class Trouble(Exception):
    """Something that the user must be told; nothing was changed."""


class Result:
    """A file that came back, and what was said."""

    def __init__(self, data, messages):
        self.data = data
        self.messages = messages

    @property
    def findings(self):
        return [m for m in self.messages if m.get("kind") == "finding"]

    @property
    def summary(self):
        return next((m for m in self.messages if m.get("kind") == "summary"), {})

    def sentence(self):
        """What became of the plan."""
        numbers = [f"{self.summary[what]} {what}" for what in ("posts", "panels")]
        return f"Rails: {' and '.join(numbers)}; {self.summary['headline']}"


def program():
    """Path of the program."""
    for path in (PROGRAM, shutil.which("plumbrail")):
        if path and os.path.isfile(path) and os.access(path, os.X_OK):
            return path
    raise Trouble(NOT_FOUND.format(at=f" at {PROGRAM} or on PATH"))


def layout(plan, wanted, options=()):
    """Lays out a plan, which is a path or the bytes of a drawing; gives the one file that is wanted (a name of `--formats`)."""
    is_path = isinstance(plan, str)
    if is_path and not os.path.isfile(plan):
        raise Trouble(f"there is no file {plan}")
    source = os.path.abspath(plan) if is_path else "-"
    command = [program(), "layout", source, "--out", "-", "--formats", wanted, "--message-format", "json", *options]
    try:
        ran = subprocess.run(
            command,
            input=None if is_path else plan,
            stdin=subprocess.DEVNULL if is_path else None,
            capture_output=True,
            timeout=SECONDS,
            # On Windows no console window shall flash up.
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except subprocess.TimeoutExpired:
        raise Trouble(f"plumbrail did not end within {SECONDS} seconds") from None
    except OSError as error:
        raise Trouble(f"plumbrail could not be started: {error}") from None
    messages = [message(line) for line in ran.stderr.decode("utf-8", "replace").splitlines() if line.strip()]
    if ran.returncode not in (0, 1):
        raise Refused(messages, ran.returncode)
    return Result(ran.stdout, messages)


class Refused(Trouble):
    """The program gave no result."""

    def __init__(self, messages, status):
        self.codes = {m.get("code") for m in messages if m.get("severity") == "error"}
        said = [told(m) for m in messages if m.get("severity") == "error"]
        super().__init__("\n".join(said) or f"plumbrail ended with status {status}")


def message(line):
    """A line on standard error; what is no JSON is passed on as it is."""
    try:
        value = json.loads(line)
    except ValueError:
        value = None
    return value if isinstance(value, dict) else {"kind": "failure", "severity": "error", "message": line}


def told(message):
    """A message as text for people."""
    parts = [f"{name} {message[name]}" for name in ("panel", "post", "layer") if message.get(name)]
    if message.get("x") is not None and message.get("y") is not None:
        parts.append(f"at {message['x']:.3f}, {message['y']:.3f}")
    at = f" ({', '.join(parts)})" if parts else ""
    text = f"{message.get('severity', 'note')}: {message.get('message', '')}{at}"
    rule = message.get("rule")
    if rule:
        text += f"\n  rule: {rule['set']} {rule['section']}: limit {rule['limit']}, found {rule['actual']}"
    if message.get("hint"):
        text += f"\n  hint: {message['hint']}"
    return text
