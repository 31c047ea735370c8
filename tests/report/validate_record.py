#!/usr/bin/env python3
"""Validates records against the record schema.

  validate_record.py SCHEMA RECORD...               every record must be valid
  validate_record.py --every-field SCHEMA RECORD    besides: the record without any one of its fields must be
                                                    refused, and so must one with a field of the wrong type
  validate_record.py --refused SCHEMA RECORD...     every record must be refused

Exit 0: all as it should be. Otherwise one line for each surprise, and exit 1.
"""
import copy
import json
import sys

import jsonschema


def places(node, path=()):
    if path:
        yield path
    if isinstance(node, dict):
        for key, value in node.items():
            yield from places(value, path + (key,))
    elif isinstance(node, list) and node:
        yield from places(node[0], path + (0,))


def parent_of(document, path):
    for key in path[:-1]:
        document = document[key]
    return document


def main(arguments):
    every_field = arguments[0] == "--every-field"
    refused = arguments[0] == "--refused"
    if every_field or refused:
        arguments = arguments[1:]
    with open(arguments[0], encoding="utf-8") as file:
        schema = json.load(file)
    validator_class = jsonschema.validators.validator_for(schema)
    validator_class.check_schema(schema)
    validator = validator_class(schema)
    surprises = 0
    tried = 0
    for name in arguments[1:]:
        with open(name, encoding="utf-8") as file:
            record = json.load(file)
        if refused:
            if validator.is_valid(record):
                surprises += 1
                print(f"{name}: valid")
            continue
        for error in validator.iter_errors(record):
            surprises += 1
            print(f"{name}: {error.json_path}: {error.message[:200]}")
        if not every_field:
            continue
        for path in places(record):
            if isinstance(path[-1], str):
                without = copy.deepcopy(record)
                del parent_of(without, path)[path[-1]]
                tried += 1
                if validator.is_valid(without):
                    surprises += 1
                    print(f"{name}: still valid without {path}")
            wrong = copy.deepcopy(record)
            parent = parent_of(wrong, path)
            parent[path[-1]] = 7 if isinstance(parent[path[-1]], str) else "x"
            tried += 1
            if validator.is_valid(wrong):
                surprises += 1
                print(f"{name}: still valid with the wrong type at {path}")
        record["colour"] = "red"
        if validator.is_valid(record):
            surprises += 1
            print(f"{name}: still valid with a field that is not in the schema")
    print(f"{len(arguments) - 1} records, {tried} changes, {surprises} surprises")
    return 1 if surprises else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
