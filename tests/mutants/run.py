#!/usr/bin/env python3
"""Changes the program by one small mistake at a time (mistakes.py) and sees whether the tests notice.

All mistakes of the sample are written into a copy of the sources at once, each behind a switch (switched.py); the test programs
are built once and run once with no mistake made, which tells which tests come by which mistake and how long they take. Then each
mistake is made and given to the tests that come by it, those of its own folder's program first, quick ones first. What cannot
stand behind a switch is built by itself. A mistake that the compiler refuses is stillborn and not counted, as is one that no test
notices and that a warning stops.

Not only the tests of a file's own folder may notice: what bench/run and report/register promise is in part seen in the program
and its page alone, and a number of calib in a golden record. So all unit test programs are asked, the own one first.

What was found is kept in build/mutants/mutants.json: it holds as long as the source and the file of the test that noticed are as they
were, or the files of all tests that did not. A run broken off goes on where it was, and after a test was added only the new one is
asked of what nobody noticed.

Usage: run.py [--sample N] [--only PREFIX] [--programs P,...] [--jobs N] [--minutes M] [--copy FOLDER] [--state FILE]
Prints one line for each mistake and the figure; ends with 0 if it is met. Equal ones and why: equal.txt.
"""
import argparse
import concurrent.futures
import glob
import json
import os
import re
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.dirname(__file__))
import mistakes
import switched
from built import Copy, Tests, sha, write_switched

WANTED_PERCENT = 90
HERE = os.path.dirname(os.path.abspath(__file__))


def equal_ones():
    """{text of a mistake: why it changes nothing}."""
    out, text = {}, None
    for line in open(os.path.join(HERE, "equal.txt")):
        if line.startswith("#") or not line.strip():
            continue
        if line[0] != " ":
            text = line.strip()
            out[text] = ""
        else:
            out[text] = (out[text] + " " + line.strip()).strip()
    return out


def files_of_tests():
    """{name of a test: digest of the file it stands in}."""
    out = {}
    for path in glob.glob("tests/*/**/*_test.cpp", recursive=True):
        text = open(path).read()
        digest = sha(text)[:16]
        for m in re.finditer(r'TEST_CASE\(\s*((?:"(?:[^"\\]|\\.)*"\s*)+)', text):
            out["".join(re.findall(r'"((?:[^"\\]|\\.)*)"', m[1])).replace('\\"', '"')] = digest
    return out


class Judgement:
    def __init__(self, arguments):
        self.arguments = arguments
        self.copy = Copy(os.path.abspath(arguments.copy), arguments.jobs)
        self.state = {"fates": {}, "maps": {}, "compiles": {}, "ways": {}}
        if os.path.exists(arguments.state):
            self.state = json.load(open(arguments.state))
        self.test_files = files_of_tests()
        self.lock = threading.Lock()
        self.ends = time.monotonic() + 60 * arguments.minutes

    def keep(self, kind, key, value):
        with self.lock:
            self.state[kind][key] = value
            with open(self.arguments.state + ".new", "w") as out:
                json.dump(self.state, out)
            os.replace(self.arguments.state + ".new", self.arguments.state)

    def log(self, text):
        print(f"{time.strftime('%H:%M:%S')} {text}", flush=True)

    def compiles(self, m, strict=False):
        key = sha(self.copy.texts[m.path], m.digest, str(strict))
        if key not in self.state["compiles"]:
            self.keep("compiles", key, self.copy.compiles(m.path, switched.Source(self.copy.texts[m.path]).with_one(m), strict))
        return self.state["compiles"][key]

    def sample(self, ways, candidates):
        """The first of the candidates that compile, as many as wanted."""
        chosen = []
        for m in candidates:
            if len(chosen) == self.arguments.sample:
                break
            if ways[m] != switched.ALONE or self.compiles(m):
                chosen.append(m)
            elif m.digest not in self.stillborn:
                self.stillborn.append(m.digest)
        return chosen

    def without_stillborn(self, chosen, ways):
        """Of those that were built alone some compile, but not with the rest of the program."""
        late = [m for m in chosen if ways[m] == switched.ALONE and not self.compiles(m)]
        self.stillborn += [m.digest for m in late]
        return [m for m in chosen if m not in late]

    def file_of(self, test):
        """Digest of the file that the test stands in; one of several types has the type behind its name."""
        return self.test_files.get(test) or self.test_files.get(test.rsplit(" - ", 1)[0], "")

    def tests_of(self, m, program):
        """Those that come by, quick ones first. Of one that is built alone it is not known: all of the own program, first those
        that come by another mistake of the file."""
        if self.ways[m] != switched.ALONE:
            return program.of(m.number)
        if program.name != mistakes.own_program(m.path):
            return []
        near = {n.number for n in self.candidates if n.path == m.path}
        return sorted((t for t in program.seconds if t), key=lambda t: (not near & program.reached[t], program.seconds[t]))

    def told(self, m):
        """(fate that still holds, test that noticed it before, digests of files whose tests did not notice it)."""
        before = self.state["fates"].get(m.digest)
        if before is None or before["source"] != sha(self.copy.texts[m.path]):
            return None, before and before["by"], ()
        if before["fate"] == "killed":
            return "killed" if self.file_of(before["by"]) == before["by_file"] else None, before["by"], ()
        come_by = {self.file_of(test) for program in self.programs.values() for test in self.tests_of(m, program)}
        return before["fate"] if come_by <= set(before["passed"]) else None, None, before["passed"]

    def note(self, m, by, programs, passed=()):
        reached = sum(len(self.tests_of(m, p)) for p in programs)
        fate = "killed" if by else "survived"
        if not by and not self.compiles(m, strict=True):
            fate = "warned"
        passed = sorted({self.file_of(test) for p in programs for test in self.tests_of(m, p)} | set(passed))
        self.keep("fates", m.digest, {"source": sha(self.copy.texts[m.path]), "text": m.text, "fate": fate, "by": by,
                                      "by_file": self.file_of(by or ""), "passed": [] if by else passed})
        self.log(f"{fate} {m.path}:{m.line + 1}: {m.original.strip()}  ->  {m.changed.strip()}"
                 + (f"  [{by}]" if by else f"  ({reached} tests come by)"))

    def judge_switched(self, chosen, ways):
        self.programs = programs = {name: Tests(self.copy, name, self.scratch) for name in self.arguments.programs}

        def learn(tests):
            self.keep("maps", tests.name, tests.learn(self.state["maps"].get(tests.name, {}), self.file_of, self.arguments.jobs))
            self.log(f"{tests.name}: {len(tests.seconds)} tests, {sum(tests.seconds.values()):.0f} s"
                     + "".join(f"; fails by itself: {t}" for t in tests.unsteady))

        def judge(m):
            fate, first, passed = self.told(m)
            if fate or time.monotonic() > self.ends:
                return
            open_ = lambda p: [test for test in p.of(m.number) if self.file_of(test) not in passed]
            own = mistakes.own_program(m.path)
            order = sorted(programs.values(), key=lambda p: p.name != own)
            by = next(filter(None, (p.judge(m.number, open_(p), first) for p in order)), None)
            self.note(m, by, order, passed)

        for tests in programs.values():
            learn(tests)
        with concurrent.futures.ThreadPoolExecutor(self.arguments.jobs) as pool:
            list(pool.map(judge, [m for m in chosen if ways[m] != switched.ALONE]))

    def judge_alone(self, chosen):
        for m in chosen:
            fate, first, _ = self.told(m)
            if fate:
                continue
            if time.monotonic() > self.ends:
                return
            # The others stay as they are, so that they need not be compiled again.
            self.copy.write({**self.copy.written, m.path: switched.Source(self.copy.texts[m.path]).with_one(m)})
            own = self.programs[mistakes.own_program(m.path)]
            good, _ = self.copy.ninja([own.name])
            if not good:
                self.keep("compiles", sha(self.copy.texts[m.path], m.digest, "False"), False)
                continue
            self.note(m, own.judge(-1, self.tests_of(m, own), first), [own])

    def run(self):
        arguments = self.arguments
        everything = mistakes.all_mistakes(".")
        # Some will not compile; the next take their places.
        self.candidates = [m for m in everything[: arguments.sample + arguments.sample // 20 + 10] if m.path.startswith(arguments.only)]
        self.log(f"{len(everything)} possible mistakes, the first {len(self.candidates)} of them looked at")
        self.stillborn = []
        self.ways = ways = write_switched(self.copy, self.candidates, arguments.programs, self.state["ways"], self.log)
        chosen = self.sample(ways, self.candidates)
        self.log(f"{len(chosen)} that compile, of {len({m.path for m in chosen})} files; "
                 f"{sum(ways[m] == switched.ALONE for m in chosen)} of them to be built alone; {len(self.stillborn)} stillborn")
        with tempfile.TemporaryDirectory() as self.scratch:
            self.judge_switched(chosen, ways)
            self.judge_alone([m for m in chosen if ways[m] == switched.ALONE])
        return self.report(self.without_stillborn(chosen, ways))

    def report(self, chosen):
        fates = {m: self.told(m)[0] for m in chosen}
        count = {fate: sum(f == fate for f in fates.values()) for fate in ("killed", "survived", "warned", None)}
        equal = equal_ones()
        survived = sorted((m for m, fate in fates.items() if fate == "survived"), key=lambda m: (m.path, m.line))
        explained = [m for m in survived if m.text in equal]
        for m in survived:
            print(f"{'equal' if m.text in equal else 'survived'} {m.path}:{m.line + 1}: {m.original.strip()}  ->  {m.changed.strip()}"
                  + (f"\n    {equal[m.text]}" if m.text in equal else ""))
        present = {m.text for m in mistakes.all_mistakes(".")}
        for text in equal:
            if text not in present:
                print(f"no longer there, to be taken out of equal.txt: {text}")
        for m, fate in fates.items():
            if fate == "killed" and m.text in equal:
                print(f"not equal, for a test notices it; to be taken out of equal.txt: {m.text}")
        judged = count["killed"] + count["survived"]
        percent = 100 * count["killed"] / judged if judged else 0
        ok = judged > 0 and not count[None] and percent >= WANTED_PERCENT
        print(f"{judged} judged: {count['killed']} killed, {len(survived)} survived, {len(explained)} of them explained in equal.txt "
              f"(without these {100 * count['killed'] / max(1, judged - len(explained)):.4g} %); "
              f"not counted: {len(self.stillborn)} do not compile, {count['warned']} that a warning stops; {count[None]} not judged yet")
        print(f"figure mutants_killed_percent {percent:.4g} % limit >= {WANTED_PERCENT} {'ok' if ok else 'short'}")
        return 0 if ok else 1


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--sample", type=int, default=410)
    parser.add_argument("--only", default="", metavar="PREFIX", help="of the sample, what lies below that folder")
    parser.add_argument("--programs", default="calib_tests,bench_tests,report_tests,program_tests,page_tests", type=lambda s: s.split(","))
    parser.add_argument("--jobs", type=int, default=len(os.sched_getaffinity(0)))
    parser.add_argument("--minutes", type=float, default=1e9)
    parser.add_argument("--copy", default="build/mutants/sources", help="where the copy is made; nothing else may stand there")
    parser.add_argument("--state", default="build/mutants/mutants.json")
    return Judgement(parser.parse_args()).run()


if __name__ == "__main__":
    sys.exit(main())
