"""Validates JSON files against a JSON Schema by check-jsonschema, a validator that is not ours.

    python check_schema.py SCHEMA.json FILE...

The schema itself is validated first, against the draft that it names.
"""

import subprocess
import sys

CHECK = [sys.executable, "-m", "check_jsonschema", "--no-cache", "--color", "never"]


def run(*args):
    ended = subprocess.run([*CHECK, *args], capture_output=True, text=True, timeout=300, check=False)
    if ended.returncode:
        print(ended.stdout + ended.stderr, file=sys.stderr)
        sys.exit(f"FAILED {' '.join(args)}")


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    schema, files = sys.argv[1], sys.argv[2:]
    run("--check-metaschema", schema)
    run("--schemafile", schema, *files)
    print(f"OK {len(files)} files")


if __name__ == "__main__":
    main()
