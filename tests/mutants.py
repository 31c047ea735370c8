#!/usr/bin/env python3
"""Changes the program by one small mistake at a time and sees whether the tests notice.

Mistakes: an operator or comparison taken for its neighbour, a constant doubled (0 becomes 1), a condition that always or never
holds, a call left out. Each is made in a copy of the sources, compiled, and given to the test program of that folder: first the
tests of the file of that name, then all. Which mistakes are made does not change with unrelated code: a sample takes those whose
text has the least digests.
Usage: mutants.py COPY BUILD [--sample N] [--only PREFIX] [--limit-s S] [--minutes M]
  COPY is a copy of the sources, BUILD a configured build tree of it.
Prints one line for each mutant (killed, survived, stillborn: does not compile) and the figure; ends with 0 if it is met.
"""
import argparse
import glob
import hashlib
import os
import re
import subprocess
import sys
import time

FOLDERS = {  # sources, their test program
    "calib/*/*.cpp": "calib_tests",
    "bench/run/*.cpp": "bench_tests",
    "bench/instruments/*.cpp": "bench_tests",
    "bench/instruments/*/*.cpp": "bench_tests",
    "report/seal/*.cpp": "report_tests",
    "report/register/*.cpp": "report_tests",
}
WANTED_PERCENT = 90

# What a line's code may become; the text between is left alone.
SWAPS = [(r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" / ", " * "), (r" \+= ", " -= "), (r" -= ", " += "),
         (r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "), (r" == ", " != "), (r" != ", " == "),
         (r" && ", " || "), (r" \|\| ", " && "), (r"\btrue\b", "false"), (r"\bfalse\b", "true")]
NUMBER = re.compile(r"(?<![\w.\"'])(\d+\.?\d*(?:e-?\d+)?)(?![\w.\"'])")
CALL = re.compile(r"^\s+(?:co_await )?[a-z_][\w.>()-]*\((?:[^;]*)\);\s*$")
CONDITION = re.compile(r"\bif \((.*)\)(?: \{| return| continue| break|$)")


def code_of(line):
    """The line with comments and strings blanked, same length; None where nothing is to be changed."""
    if re.match(r"\s*(#|//|static_assert|template|using|namespace)", line) or "constexpr std::array" in line:
        return None
    blank = lambda m: " " * len(m[0])
    line = re.sub(r'"(?:[^"\\]|\\.)*"', lambda m: '"' + "_" * (len(m[0]) - 2) + '"', line)
    line = re.sub(r"'(?:[^'\\]|\\.)'", lambda m: "'_'" + " " * (len(m[0]) - 3), line)
    return re.sub(r"//.*$", blank, line)


def mutants_of(path, text):
    for number, line in enumerate(text.split("\n")):
        code = code_of(line)
        if code is None or not code.strip():
            continue
        for pattern, other in SWAPS:
            for m in re.finditer(pattern, code):
                if "<<" in code or "template" in code or ("for (" in code and pattern in (r" < ", r" <= ")):
                    continue
                yield path, number, line[: m.start()] + other + line[m.end():]
        for m in NUMBER.finditer(code):
            value = float(m[1])
            doubled = "1" if value == 0 else (str(int(value) * 2) if m[1].isdigit() else repr(value * 2))
            if "<" + m[1] + ">" not in code and "[" + m[1] + "]" not in code:
                yield path, number, line[: m.start(1)] + doubled + line[m.end(1):]
        m = CONDITION.search(code)
        if m and m[1].count("(") == m[1].count(")") and ";" not in m[1] and "constexpr" not in code:
            yield path, number, line[: m.start(1)] + "(" + line[m.start(1): m.end(1)] + ") || true" + line[m.end(1):]
            yield path, number, line[: m.start(1)] + "(" + line[m.start(1): m.end(1)] + ") && false" + line[m.end(1):]
        if CALL.match(code) and not code.strip().startswith(("return", "co_return", "throw")):
            yield path, number, line[: len(line) - len(line.lstrip())] + ";"


def digest(mutant, original):
    path, number, changed = mutant
    return hashlib.sha256("\0".join((path, original.strip(), changed.strip())).encode()).hexdigest()


def run(command, limit_s, **options):
    """Exit code; None when it took too long."""
    try:
        return subprocess.run(command, timeout=limit_s, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **options).returncode
    except subprocess.TimeoutExpired:
        return None


def fate(copy, build, mutant, limit_s):
    path, number, changed = mutant
    target = next(t for pattern, t in FOLDERS.items() if path in glob.glob(pattern, root_dir=copy))
    file = os.path.join(copy, path)
    original = open(file).read()
    lines = original.split("\n")
    lines[number] = changed
    try:
        open(file, "w").write("\n".join(lines))
        if run(["ninja", "-C", build, target], 1200) != 0:
            return "stillborn"
        program = os.path.join(build, "tests", target)
        named = os.path.splitext(os.path.basename(path))[0]
        for tests in (["-#", f"[#{named}_test]"], []):
            if run([program, "--abort", *tests], limit_s) != 0:
                return "killed"
        return "survived"
    finally:
        open(file, "w").write(original)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("copy")
    parser.add_argument("build")
    parser.add_argument("--sample", type=int, default=400)
    parser.add_argument("--only", default="")
    parser.add_argument("--limit-s", type=float, default=300)
    parser.add_argument("--minutes", type=float, default=1e9)
    arguments = parser.parse_args()
    mutants = []
    for pattern in FOLDERS:
        for path in sorted(glob.glob(pattern, root_dir=arguments.copy)):
            if not path.startswith(arguments.only):
                continue
            text = open(os.path.join(arguments.copy, path)).read()
            lines = text.split("\n")
            mutants += [(digest(m, lines[m[1]]), m, lines[m[1]]) for m in mutants_of(path, text)]
    chosen = sorted(mutants)[: arguments.sample]
    print(f"{len(mutants)} possible mutants, {len(chosen)} chosen", flush=True)
    # Neighbours share what must be compiled anew.
    chosen.sort(key=lambda c: c[1][:2])
    ends = time.monotonic() + 60 * arguments.minutes
    count = {"killed": 0, "survived": 0, "stillborn": 0}
    for _, mutant, original in chosen:
        if time.monotonic() > ends:
            print("time is up")
            break
        result = fate(arguments.copy, arguments.build, mutant, arguments.limit_s)
        count[result] += 1
        print(f"{result} {mutant[0]}:{mutant[1] + 1}: {original.strip()}  ->  {mutant[2].strip()}", flush=True)
    judged = count["killed"] + count["survived"]
    percent = 100 * count["killed"] / judged if judged else 0
    ok = judged > 0 and percent >= WANTED_PERCENT
    print(f"{judged} judged, {count['stillborn']} did not compile")
    print(f"figure mutants_killed_percent {percent:.4g} % limit >= {WANTED_PERCENT} {'ok' if ok else 'short'}")
    return 0 if ok else 1


if __name__ == "__main__":
    sys.exit(main())
