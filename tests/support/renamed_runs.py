#!/usr/bin/env python3
"""Runs of many gauges from one: journal and record with another serial number, every checksum as it should be.
Arguments: folder of the run, its serial number, prefix and count of the new ones, folder to write to."""
import hashlib
import os
import sys
import zlib

run, serial, prefix, count, out = sys.argv[1], sys.argv[2].encode(), sys.argv[3], int(sys.argv[4]), sys.argv[5]
with open(run + "/journal.twj", "rb") as file:
    journal = file.read()
with open(run + "/record.json", "rb") as file:
    record = file.read()
digest = hashlib.sha256(journal).hexdigest().encode()
assert serial in journal and serial in record and digest in record


def renamed(line, new):
    if serial not in line:
        return line
    body = line[: line.rindex(b" *")].replace(serial, new)
    return body + b" *%08x" % zlib.crc32(body)


for i in range(1, count + 1):
    new = f"{prefix}-{i}".encode()
    folder = f"{out}/{prefix}-{i}"
    os.makedirs(folder)
    other = b"\n".join(renamed(line, new) for line in journal.split(b"\n"))
    with open(folder + "/journal.twj", "wb") as file:
        file.write(other)
    other_digest = hashlib.sha256(other).hexdigest().encode()
    # What is new in every run bears the beginning of its journal's digest (report/record/causes.hpp).
    replaced = record.replace(serial, new).replace(digest, other_digest).replace(digest[:16], other_digest[:16])
    with open(folder + "/record.json", "wb") as file:
        file.write(replaced)
