"""The copy of the sources with mistakes in it, what is built of it, and the test programs that are run."""
import concurrent.futures
import hashlib
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile

import switched

MEMORY_BYTES = 8 << 30  # of a test program: a mistake may ask for ever more
GROUPS_S = (1, 10, 1e9)  # tests of a mistake are run in so many turns, the quick ones first


def sha(*texts):
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()


def write_if_new(path, data):
    data = data if isinstance(data, bytes) else data.encode()
    try:
        if open(path, "rb").read() == data:
            return
    except FileNotFoundError:
        os.makedirs(os.path.dirname(path), exist_ok=True)
    open(path, "wb").write(data)


class Copy:
    """The copy of the sources and what is built of it."""

    def __init__(self, root, jobs):
        self.root, self.jobs = root, jobs
        self.build, self.alone = (os.path.join(root, "build", name) for name in ("test", "alone"))
        names = subprocess.run(["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"], check=True,
                               capture_output=True).stdout.decode().split("\0")
        self.surroundings = ""  # of the tests: all but they themselves and what is written
        for name in filter(None, names):
            if os.path.isfile(name) and not self.is_mutable(name):
                data = open(name, "rb").read()
                if name == "tests/main.cpp":
                    data += b'#include "tests/mutants/listener.hpp"\n'
                write_if_new(os.path.join(root, name), data)
                os.chmod(os.path.join(root, name), os.stat(name).st_mode & 0o777)
            if os.path.isfile(name) and not self.is_mutable(name) and not re.search(r"_test\.cpp$|^tests/mutants/.*(py|txt)$", name):
                self.surroundings = sha(self.surroundings, name, sha(open(name, "rb").read().decode("latin-1")))
        # Read once: who works on them meanwhile does not disturb a run.
        self.texts = {name: open(name).read() for name in names if name and self.is_mutable(name) and os.path.isfile(name)}
        if not os.path.exists(os.path.join(self.build, "build.ninja")):
            self.write({})
            # As tests/run.sh builds, so that the compiler cache has all that is not changed; and how each file is compiled alone.
            for build, together in ((self.build, "ON"), (self.alone, "OFF")):
                subprocess.run(["cmake", "-S", root, "-B", build, "-G", "Ninja", "-DCMAKE_BUILD_TYPE=Release",
                                "-DTIPWRIGHT_WERROR=ON", "-DCMAKE_UNITY_BUILD=" + together],
                               check=True, stdout=subprocess.DEVNULL)

    @staticmethod
    def is_mutable(name):
        return name.endswith(".cpp") and name.startswith(("calib/", "bench/run/", "bench/instruments/", "report/seal/", "report/register/"))

    def write(self, texts):
        """Each file of `texts` as it stands there, all others as they are."""
        for name, plain in self.texts.items():
            if name not in texts:
                write_if_new(os.path.join(self.root, name), plain)
                continue
            # Warnings of a mistake made on purpose help nobody: a header of the system is not warned of.
            mutated = name[:-4] + ".mutated.hpp"
            write_if_new(os.path.join(self.root, mutated), "#pragma GCC system_header\n" + texts[name])
            write_if_new(os.path.join(self.root, name),
                         f'#include "tests/mutants/switch.hpp"\n\n#include "{os.path.basename(mutated)}"\n')

    def all_but_tests(self):
        """Digest of what a test of unchanged text runs on."""
        return sha(self.surroundings, *(text for name in sorted(self.texts) for text in (name, self.written.get(name, self.texts[name]))))

    def ninja(self, targets):
        done = subprocess.run(["ninja", "-C", self.build, "-k", "0", "-j", str(self.jobs), *targets], capture_output=True, text=True)
        return done.returncode == 0, done.stdout + done.stderr

    def compiles(self, path, text, strict=False):
        """Whether the compiler takes the text in place of that file; strictly, with the warnings that CI stops at."""
        name = os.path.join(self.root, path)
        command = next(c for c in json.load(open(os.path.join(self.alone, "compile_commands.json"))) if c["file"] == name)
        words = shlex.split(command["command"])
        words = words[next(i for i, w in enumerate(words) if re.search(r"(\+\+|clang)[-\d.]*$", w)):]
        del words[words.index("-o"): words.index("-o") + 2]
        words[words.index(name)] = "-"
        extra = ["-fsyntax-only", "-x", "c++", "-I", os.path.dirname(name)] + ([] if strict else ["-w"])
        return subprocess.run(words[:1] + extra + words[1:], input=text, text=True, cwd=command["directory"],
                              capture_output=True).returncode == 0


def write_switched(copy, wanted, programs, kept, log):
    """Builds the programs with all of the mistakes in them; {mistake: way}. kept: the ways that were found before."""
    texts = {path: copy.texts[path] for path in sorted({m.path for m in wanted})}
    sources = {path: switched.Source(text) for path, text in texts.items()}
    key = lambda m: sha(texts[m.path], m.digest)
    ways = {m: kept.get(key(m), sources[m.path].first_way(m)) for m in wanted}
    for attempt in range(12):
        written = {}
        for path, text in texts.items():
            of_path = {m: way for m, way in ways.items() if m.path == path}
            if any(way != switched.ALONE for way in of_path.values()):
                written[path] = switched.Source(text).with_all(of_path)
                for m, way in of_path.items():
                    if way != switched.ALONE and f"made({m.number})" not in written[path]:
                        ways[m] = switched.ALONE
        copy.write(written)
        copy.written = written
        good, said = copy.ninja(programs)
        log(f"build {attempt + 1}: {'good' if good else 'some do not compile behind a switch'}")
        if good:
            kept.update({key(m): way for m, way in ways.items()})
            return ways
        # Several files are compiled as one: the compiler's place says in which of them the mistake stands.
        bad_lines = {(os.path.relpath(m[1], copy.root) + ".cpp", int(m[2]) - 1) for line in said.split("\n")
                     if re.search(r"error:|required from", line) for m in re.finditer(r"([\w./-]+)\.mutated\.hpp:(\d+)", line)}
        failed = {path for path, _ in bad_lines if path in texts}
        if not failed:
            sys.exit("tests/mutants.sh: the copy does not build:\n" +
                     "\n".join([line for line in said.split("\n") if "error" in line][:20] or [said[-3000:]]))
        for path in failed:
            lines = {line for name, line in bad_lines if name == path}
            on = [m for m, way in ways.items() if m.path == path and way != switched.ALONE]
            hit = [m for m in on if any(low <= line <= high for low, high in [sources[path].lines_of(m, ways[m])] for line in lines)]
            for m in hit or [m for m in on if ways[m] == switched.CONSTANT] or on:
                ways[m] = sources[path].first_way(m, ways[m]) if hit else switched.ALONE
    sys.exit("tests/mutants.sh: no end of what does not compile behind a switch")


class Tests:
    """A test program and what each of its tests comes by."""

    def __init__(self, copy, name, scratch):
        self.name, self.copy, self.scratch = name, copy, scratch
        self.program = os.path.join(copy.build, "tests", name)
        self.seconds, self.reached, self.unsteady = {}, {}, set()

    def run(self, tests, mutant, limit_s, map_file=None, abort=True):
        """(test that failed or was under way when the program broke off, None if all passed; what each test told)."""
        scratch = tempfile.mkdtemp(dir=self.scratch)
        told, names = (os.path.join(scratch, name) for name in ("told", "names"))
        command = ["prlimit", f"--as={MEMORY_BYTES}", "--core=0", self.program]
        quote = lambda t: '"' + re.sub(r'(["\\,\[\]])', r"\\\1", t) + '"'
        open(names, "w").write("".join(quote(t) + "\n" for t in tests))
        command += ["-f", names] + (["--abort"] if abort else [])
        environment = dict(os.environ, TIPWRIGHT_MUTANT=str(mutant), TIPWRIGHT_MUTANTS_TESTS=told, HOME=scratch,
                           TIPWRIGHT_SETTINGS="")
        if map_file:
            environment["TIPWRIGHT_MUTANTS_REACHED"] = map_file
        process = subprocess.Popen(command, env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                   stderr=subprocess.DEVNULL, start_new_session=True, cwd=self.copy.root)
        try:
            code = process.wait(limit_s)
        except subprocess.TimeoutExpired:
            code = None
        try:  # whatever it began and left
            os.killpg(process.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
        process.wait()
        lines = [line.split("\t") for line in open(told, errors="replace").read().split("\n")[:-1]] if os.path.exists(told) else []
        shutil.rmtree(scratch, ignore_errors=True)
        if code == 0:
            return None, lines
        begun = [line[1] for line in lines if line[0] == "begun"]
        failed = [line[1] for line in lines if line[0] == "failed"]
        return (failed or begun or [""])[-1], lines

    def learn(self, kept, file_of, shards):
        """Which tests come by which mistakes. kept: what was learnt before, which holds for tests in files that are as they were
        while all else is."""
        around = self.copy.all_but_tests()
        before = kept if kept.get("around") == around else {"seconds": {}, "reached": {}, "files": {}}
        names = subprocess.run([self.program, "--list-test-names-only"], capture_output=True, text=True).stdout
        names = [name.strip() for name in names.split("\n") if name.strip()]
        same = {name for name in names if name in before["seconds"] and before["files"].get(name) == file_of(name)}
        seconds = {t: s for t, s in before["seconds"].items() if not t or t in same}
        reached = {t: before["reached"][t] for t in seconds}
        unsteady = []
        new = [name for name in names if name not in same]

        def shard(i):
            return self.run(new[i::shards], -1, 3600, os.path.join(self.scratch, f"reached-{self.name}-{i}"), abort=False)[1]

        if new:
            with concurrent.futures.ThreadPoolExecutor(shards) as pool:
                lines = sum(pool.map(shard, range(min(shards, len(new)))), [])
            for line in lines:
                if line[0] == "failed":
                    unsteady.append(line[1])
                elif line[0] != "begun":
                    seconds[line[1]] = float(line[0])
                    reached[line[1]] = [int(n) for n in line[2].split()]
        self.seconds, self.unsteady = seconds, unsteady
        self.reached = {test: set(numbers) for test, numbers in reached.items()}
        return {"around": around, "files": {name: file_of(name) for name in names}, "seconds": seconds, "reached": reached,
                "unsteady": unsteady}

    def of(self, number):
        """The tests that come by the mistake, quick ones first; all of them where it is made before any test."""
        at_start = number in self.reached.get("", ())
        return sorted((t for t, numbers in self.reached.items() if t and (at_start or number in numbers)), key=self.seconds.get)

    def notices(self, number, tests):
        """The test that fails with that mistake, twice; None if all pass."""
        tests = list(tests)
        while tests:
            limit_s = 60 + 20 * sum(self.seconds.get(t, 1) for t in tests)
            failed, _ = self.run(tests, number, limit_s)
            if failed is None:
                return None
            if failed == "":
                return "(before any test)"
            again, _ = self.run([failed], number, 60 + 20 * self.seconds.get(failed, 1))
            if again is not None:
                return failed
            tests.remove(failed)  # it failed for something else
        return None

    def judge(self, number, tests, first=None):
        if first in self.seconds and (found := self.notices(number, [first])):
            return found
        for limit_s in GROUPS_S:
            group, total = [], 0
            while tests and (not group or total + self.seconds[tests[0]] <= limit_s):
                group.append(tests.pop(0))
                total += self.seconds[group[-1]]
            if group and (found := self.notices(number, group)):
                return found
        return None
