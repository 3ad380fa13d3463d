"""Checks that a bill of materials is CycloneDX 1.6 by the validator of its authors, and that all it refers to is in it."""

import json
import sys

from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

text = open(sys.argv[1], encoding="utf-8").read()
error = JsonStrictValidator(SchemaVersion.V1_6).validate_str(text)
if error is not None:
    sys.exit(f"{sys.argv[1]} is not CycloneDX 1.6: {error}")
bill = json.loads(text)
known = {component["bom-ref"] for component in bill["components"]} | {bill["metadata"]["component"]["bom-ref"]}
told = {ref for entry in bill["dependencies"] for ref in (entry["ref"], *entry["dependsOn"])}
if told != known:
    sys.exit(f"components and dependencies differ: {sorted(told ^ known)}")
print(f"OK {len(known)} components")
