#!/usr/bin/env python3
"""What the schema of instrument profiles says of profiles, and of each profile changed in one place.

  profile_verdicts.py SCHEMA OUT PROFILE...             the profiles as they are
  profile_verdicts.py --changes SCHEMA OUT PROFILE...   besides: one value left out, replaced, spoilt or added

Writes OUT, a JSON list of {profile, change, toml, valid, error}, for the program's reader to judge the same.
"""
import copy
import json
import sys
import tomllib

import jsonschema

REPLACEMENTS = ["x", "", 7, -1, 70000, 0.3, True, [], {}]
ADDED = {
    "colour": "red", "overload": True, "stable": False, "ask_for_errors": False, "edge_wait": 1, "drain_open": [],
    "keep_alive": [], "keep_alive_read": {"register": 1}, "status": {"register": 1}, "supply": {"rts": True},
    "tare": "ZERO", "refusals": [], "serial": {"baud": 300},
}


def spoilt_lines(line):
    yield line + " {"
    yield line + "}"
    yield line + "{_}"
    yield line + " {_}{_}"
    yield line + " {{x}}"
    yield line + "\t{text}\t"
    yield line + " {text} x"
    yield line + " {mass_g:08.2}"
    yield line + " {flow_mL_min}"
    yield line.replace("{", "{_}{", 1)
    yield line.replace("{", "{x}{", 1)
    yield line.replace("}", ":41}", 1)
    yield line.replace("}", ":40.9}", 1)
    yield line.replace("}", ":}", 1)
    yield line.replace("{", "", 1).replace("}", "", 1)
    yield line + " " + line
    yield line + "\u00e9"
    yield line + "\u200b"
    yield line + "\n"
    yield line + "x" * (400 - len(line))
    yield line + "x" * (401 - len(line))


def places(node, path=()):
    if path:
        yield path
    if isinstance(node, dict):
        for key, value in node.items():
            yield from places(value, path + (key,))
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from places(value, path + (index,))


def at(document, path):
    for key in path:
        document = document[key]
    return document


def probes_by_name(schema):
    """Of every property with limits or a list of choices: the values at and just outside them."""
    probes = {}

    def noted(name, node):
        if "$ref" in node:
            noted(name, schema["$defs"][node["$ref"].removeprefix("#/$defs/")])
        values = list(node.get("enum", []))
        for key in ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"):
            if key in node:
                limit = node[key]
                step = 1 if node.get("type") == "integer" else abs(limit) * 1e-9 or 1e-9
                values += [limit, limit - step, limit + step]
        if values:
            known = probes.setdefault(name, [])
            known += [value for value in values if value not in known]

    def walk(node):
        if isinstance(node, dict):
            for name, child in node.get("properties", {}).items():
                if isinstance(child, dict):
                    noted(name, child)
            for child in node.values():
                walk(child)
        elif isinstance(node, list):
            for child in node:
                walk(child)

    walk(schema)
    return probes


def is_beyond_schema(path, value):
    # How far apart the registers of one request may be is not for a schema to say.
    return path[0] in ("read", "status") and path[-1] == "register" and isinstance(value, int) and value > 200


def judge_changes(document, probes, judge):
    def changed(path, value):
        copied = copy.deepcopy(document)
        at(copied, path[:-1])[path[-1]] = value
        return judge(f"{path} = {value!r}", copied)

    for path in list(places(document)):
        value = at(document, path)
        without = copy.deepcopy(document)
        del at(without, path[:-1])[path[-1]]
        judge(f"{path} left out", without)
        candidates = list(REPLACEMENTS)
        if path[-1] in probes:
            candidates += [probe for probe in probes[path[-1]] if not is_beyond_schema(path, probe)]
        elif isinstance(value, str):
            candidates += spoilt_lines(value)
        if isinstance(value, list) and value:
            candidates += [value + value[-1:], value[:1] * 16, value[:1] * 17, value[:1] * 32, value[:1] * 33]
        for candidate in candidates:
            changed(path, candidate)
    for path in [()] + [path for path in places(document) if isinstance(at(document, path), dict)]:
        for key, values in ({name: [value] for name, value in ADDED.items()} | probes).items():
            if key in at(document, path):
                continue
            # Where nobody knows the key, one value shows it.
            if changed(path + (key,), values[0]):
                for value in values[1:]:
                    changed(path + (key,), value)


def toml(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value)


def main(arguments):
    with_changes = arguments[0] == "--changes"
    schema_name, out_name, *names = arguments[1:] if with_changes else arguments
    with open(schema_name, encoding="utf-8") as file:
        schema = json.load(file)
    validator_class = jsonschema.validators.validator_for(schema)
    validator_class.check_schema(schema)
    validator = validator_class(schema)

    probes = probes_by_name(schema)
    verdicts = []

    def judge(name, change, text):
        error = next(validator.iter_errors(tomllib.loads(text)), None)
        message = "" if error is None else f"{error.json_path}: {error.message[:200]}"
        verdicts.append({"profile": name, "change": change, "toml": text, "valid": error is None, "error": message})
        return error is None

    for name in names:
        with open(name, encoding="utf-8") as file:
            text = file.read()
        judge(name, "none", text)
        if with_changes:
            judge_changes(tomllib.loads(text), probes, lambda change, document: judge(
                name, change, "".join(f"{key} = {toml(value)}\n" for key, value in document.items())))
    with open(out_name, "w", encoding="utf-8") as file:
        json.dump(verdicts, file)


if __name__ == "__main__":
    main(sys.argv[1:])
