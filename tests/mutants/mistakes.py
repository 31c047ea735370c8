"""The small mistakes that can be made in the sources: which there are, and which of them a sample takes.

An operator or comparison taken for its neighbour, a constant doubled (0 becomes 1), a condition that always or never holds, a call
left out. A mistake is known by the file's path, the line and what the line becomes: moving a line changes no sample, and a sample
takes those whose text has the least digests.
"""
import dataclasses
import glob
import hashlib
import os
import re

FOLDERS = {  # sources, their own test program
    "calib/*/*.cpp": "calib_tests",
    "bench/run/*.cpp": "bench_tests",
    "bench/instruments/*.cpp": "bench_tests",
    "bench/instruments/*/*.cpp": "bench_tests",
    "report/seal/*.cpp": "report_tests",
    "report/register/*.cpp": "report_tests",
}

# What a line's code may become; the text between is left alone.
SWAPS = [(r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" / ", " * "), (r" \+= ", " -= "), (r" -= ", " += "),
         (r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "), (r" == ", " != "), (r" != ", " == "),
         (r" && ", " || "), (r" \|\| ", " && "), (r"\btrue\b", "false"), (r"\bfalse\b", "true")]
NUMBER = re.compile(r"(?<![\w.\"'])(\d+\.?\d*(?:e-?\d+)?)(?![\w.\"'])")
CALL = re.compile(r"^\s+(?:co_await )?[a-z_][\w.>()-]*\((?:[^;]*)\);\s*$")
CONDITION = re.compile(r"\bif \((.*)\)(?: \{| return| continue| break|$)")


@dataclasses.dataclass(frozen=True)
class Mistake:
    path: str
    line: int       # from 0
    start: int      # what of the line is replaced
    end: int
    by: str
    original: str   # the whole line
    changed: str

    @property
    def text(self):
        return f"{self.path}: {self.original.strip()}  ->  {self.changed.strip()}"

    @property
    def digest(self):
        return hashlib.sha256("\0".join((self.path, self.original.strip(), self.changed.strip())).encode()).hexdigest()

    @property
    def number(self):
        """By which the program is told to make it: does not change when other mistakes come and go."""
        return int(self.digest[:5], 16)


def code_of(line):
    """The line with comments and strings blanked, same length; None where nothing is to be changed."""
    if re.match(r"\s*(#|//|static_assert|template|using|namespace)", line) or "constexpr std::array" in line:
        return None
    blank = lambda m: " " * len(m[0])
    line = re.sub(r'"(?:[^"\\]|\\.)*"', lambda m: '"' + "_" * (len(m[0]) - 2) + '"', line)
    line = re.sub(r"'(?:[^'\\]|\\.)'", lambda m: "'_'" + " " * (len(m[0]) - 3), line)
    return re.sub(r"//.*$", blank, line)


def joins_text(code, m):
    """Text is put together there, and nothing can be taken from text: no compiler would take it."""
    return m[0].strip() in ("+", "+=") and (code[: m.start()].endswith('"') or code[m.end():].startswith('"'))


def changes_of(code):
    """(start, end, what stands there instead) of each mistake in one line."""
    for pattern, other in SWAPS:
        for m in re.finditer(pattern, code):
            if "<<" in code or "template" in code or ("for (" in code and pattern in (r" < ", r" <= ")) or joins_text(code, m):
                continue
            yield m.start(), m.end(), other
    for m in NUMBER.finditer(code):
        whole = m[1].isdigit()
        value = float(m[1])
        doubled = ("1" if whole else "1.0") if value == 0 else (str(int(value) * 2) if whole else repr(value * 2))
        if "<" + m[1] + ">" not in code and "[" + m[1] + "]" not in code:
            yield m.start(1), m.end(1), doubled
    m = CONDITION.search(code)
    if m and m[1].count("(") == m[1].count(")") and ";" not in m[1] and "constexpr" not in code:
        yield m.start(1), m.end(1), "({}) || true"
        yield m.start(1), m.end(1), "({}) && false"
    if CALL.match(code) and code.count("(") == code.count(")") and not code.strip().startswith(("return", "co_return", "throw")):
        yield len(code) - len(code.lstrip()), len(code.rstrip()), ";"


def mistakes_of(path, text):
    for number, line in enumerate(text.split("\n")):
        code = code_of(line)
        if code is None or not code.strip():
            continue
        for start, end, by in changes_of(code):
            by = by.replace("{}", line[start:end])
            yield Mistake(path, number, start, end, by, line, line[:start] + by + line[end:])


def all_mistakes(root):
    """In the order in which a sample takes them; of those with the same text in one file, the first."""
    found = {}
    for pattern in FOLDERS:
        for path in sorted(glob.glob(pattern, root_dir=root)):
            for mistake in mistakes_of(path, open(os.path.join(root, path)).read()):
                found.setdefault(mistake.digest, mistake)
    chosen, numbers = [], set()
    for mistake in sorted(found.values(), key=lambda m: m.digest):
        if mistake.number not in numbers:  # two of one number could not be told apart
            numbers.add(mistake.number)
            chosen.append(mistake)
    return chosen


def own_program(path):
    return next(program for pattern, program in FOLDERS.items()
                if re.fullmatch(pattern.replace(".", r"\.").replace("*", "[^/]*"), path))
