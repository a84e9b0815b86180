"""Checks a JSON file against a schema: check_schema.py SCHEMA FILE.

Stricter than the schema itself, which allows keys of newer minor versions: every key must be described.
"""
import json
import sys

try:
    import jsonschema
except ImportError:
    sys.exit("python3-jsonschema is missing: install it with apt-get install python3-jsonschema")


def closed(schema):
    """The schema with no room for keys that it does not name."""
    if isinstance(schema, list):
        return [closed(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    made = {key: closed(part) for key, part in schema.items()}
    if isinstance(schema.get("properties"), dict):
        made.setdefault("additionalProperties", False)
    return made


with open(sys.argv[1], encoding="utf-8") as file:
    schema = closed(json.load(file))
with open(sys.argv[2], encoding="utf-8") as file:
    data = json.load(file)
jsonschema.Draft202012Validator.check_schema(schema)
faults = [f"{'/'.join(map(str, fault.absolute_path))}: {fault.message}"
          for fault in jsonschema.Draft202012Validator(schema).iter_errors(data)]
if faults:
    sys.exit("\n".join(faults))
