#!/usr/bin/env python3
"""A fixed sample of mistakes that a test notices, each with that test: CI makes them again and asks that test alone.

held.txt holds more of them than are asked for: a line that was changed takes its mistake with it, and the next moves up. A test that
no longer notices its mistake, or is no longer there, ends this with 1, and so does a file that has too few left. Written anew it is
by `bash tests/mutants.sh`, which judges, and `held.py --write`, which takes the first that a quick test of a unit test program notices.

Usage: held.py [--write] [--jobs N] [--copy FOLDER] [--state FILE]
"""
import argparse
import concurrent.futures
import json
import os
import sys
import tempfile
import time

sys.path.insert(0, os.path.dirname(__file__))
import mistakes
import switched
from built import Copy, Tests, sha, write_switched

ASKED = 40
KEPT = 60
PROGRAMS = ["calib_tests", "bench_tests", "report_tests"]
QUICK_S = 1
LIMIT_S = 60  # for one of these tests on a busy machine; a mistake may go round for ever
FILE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "held.txt")
HEADING = "# Mistakes that CI makes again, and the test that noticed each. Written by held.py --write.\n"


def read():
    """[(text of a mistake, program, test)]"""
    lines = [line for line in open(FILE).read().split("\n") if line and not line.startswith("#")]
    return [(text, *by.strip().split(": ", 1)) for text, by in zip(lines[::2], lines[1::2])]


def write(arguments):
    state = json.load(open(arguments.state))
    out = []
    for m in mistakes.all_mistakes("."):
        fate, text = state["fates"].get(m.digest), open(m.path).read()
        if len(out) == KEPT:
            break
        if not fate or fate["fate"] != "killed" or fate["source"] != sha(text):
            continue
        source = switched.Source(text)
        # Those that compile behind a switch at the first try need one build.
        if state["ways"].get(sha(text, m.digest)) != source.first_way(m) or source.first_way(m) == switched.ALONE:
            continue
        program = next((p for p in PROGRAMS if state["maps"][p]["seconds"].get(fate["by"], QUICK_S) < QUICK_S), None)
        if program:
            out.append(f"{m.text}\n    {program}: {fate['by']}\n")
    open(FILE, "w").write(HEADING + "".join(out))
    print(f"{len(out)} written to {FILE}")
    return 0 if len(out) == KEPT else 1


def judge(copy, asked, jobs):
    """What is to be said against the sample, a line each."""
    with tempfile.TemporaryDirectory() as scratch, concurrent.futures.ThreadPoolExecutor(jobs) as pool:
        programs = {name: Tests(copy, name, scratch) for name in PROGRAMS}

        def failed(m, program, test):
            name, lines = programs[program].run([test], m.number if m else -1, LIMIT_S)
            return name is not None, any(line[0] == "begun" for line in lines)

        # Without any mistake each of them passes, or it would notice everything.
        tests = sorted({(program, test) for _, program, test in asked})
        sound = list(pool.map(lambda t: failed(None, *t), tests))
        wrong = [f"{program} has no test \"{test}\"" if not begun else f"\"{test}\" fails without any mistake"
                 for (program, test), (bad, begun) in zip(tests, sound) if bad or not begun]
        noticed = list(pool.map(lambda a: failed(*a)[0], asked))
        return wrong + [f"\"{test}\" no longer notices {m.path}:{m.line + 1}: {m.original.strip()}  ->  {m.changed.strip()}"
                        for (m, _, test), seen in zip(asked, noticed) if not seen]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--jobs", type=int, default=len(os.sched_getaffinity(0)))
    parser.add_argument("--copy", default="build/mutants/held")
    parser.add_argument("--state", default="build/mutants/mutants.json")
    arguments = parser.parse_args()
    if arguments.write:
        return write(arguments)
    began = time.monotonic()
    by_text = {m.text: m for m in mistakes.all_mistakes(".")}
    asked = [(by_text[text], program, test) for text, program, test in read() if text in by_text][:ASKED]
    if len(asked) < ASKED:
        print(f"tests/mutants/held.txt: only {len(asked)} of its mistakes can still be made; tests/mutants/held.py says how it is written anew")
        return 1
    copy = Copy(os.path.abspath(arguments.copy), arguments.jobs)
    ways = write_switched(copy, [m for m, _, _ in asked], PROGRAMS, {}, print)
    asked = [one for one in asked if ways[one[0]] != switched.ALONE]
    wrong = judge(copy, asked, arguments.jobs)
    print("".join(line + "\n" for line in wrong) + f"{len(asked) - len(wrong)} of {len(asked)} held mistakes are noticed, "
          f"{time.monotonic() - began:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
