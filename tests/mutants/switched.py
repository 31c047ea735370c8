"""Writes a source with several mistakes in it, each made only in a process that is told its number.

Where an expression `e` would become `f`, `(made(7) ? (f) : (e))` is written: one compilation serves every mistake of a file, and
the program itself tells which tests came by (switch.hpp). Where that does not compile, the statement is written twice; a constant
expression becomes a constant; what is left is built by itself. Where an expression begins and ends is told from the text alone:
the sources are formatted by clang-format, so that a `<` with a space before it is an operator. The compiler has the last word.
"""
import re

TERNARY, STATEMENT, CONSTANT, ALONE = range(4)  # ways of writing it, in the order in which they are tried

TOKENS = re.compile(
    r"""(?P<comment>//[^\n]*|/\*(?s:.*?)\*/)|(?P<raw>R"(?P<d>[^(\s]*)\((?s:.*?)\)(?P=d)")|(?P<string>"(?:[^"\\\n]|\\.)*")"""
    r"""|(?P<number>\b\d[\w']*)|(?P<char>'(?:[^'\\\n]|\\.)+')|(?P<line>^[ \t]*\#[^\n]*(?:\\\n[^\n]*)*)""", re.M)
STARTS_BODY = re.compile(r"\b(?:if|while|for|switch)(?: constexpr)? ?$")
DECLARES = re.compile(r"(?:inline |static )*(?:const|constexpr|auto|static)\b")
ENDS_EXPRESSION = {"return", "co_return", "co_yield", "throw", "else", "do", "case"}
CLOSER = {"(": ")", "[": "]", "{": "}", "<": ">"}
OPENER = {")": "(", "]": "[", "}": "{", ">": "<"}


def keep_lines(text, filler):
    return re.sub(r"[^\n]", filler, text)


def without_comments(text):
    return TOKENS.sub(lambda m: keep_lines(m[0], " ") if m["comment"] else m[0], text)


def shape_of(text):
    """The text with strings blanked and directives made statements, same length: what the scans below look at."""
    def blank(m):
        if m["line"]:
            return keep_lines(m[0], " ")[:-1] + ";"
        return keep_lines(m[0], "_") if m["string"] or m["raw"] or m["char"] or m["number"] else m[0]
    return TOKENS.sub(blank, text)


def opens_template(shape, i):
    return shape[i] == "<" and shape[i - 1] not in " <" and shape[i + 1] not in " =<"


def closes_template(shape, i):
    return shape[i] == ">" and shape[i - 1] not in " -" and not (shape[i - 1] == ">" and shape[i - 2] == " ")


def opener_of(shape, i):
    closer, opener, depth = shape[i], OPENER[shape[i]], 0
    while i >= 0:
        if shape[i] == closer and (closer != ">" or closes_template(shape, i)):
            depth += 1
        elif shape[i] == opener and (opener != "<" or opens_template(shape, i)):
            depth -= 1
            if depth == 0:
                return i
        i -= 1
    return 0


def closer_of(shape, i):
    opener, closer, depth = shape[i], CLOSER[shape[i]], 0
    while i < len(shape):
        if shape[i] == opener and (opener != "<" or opens_template(shape, i)):
            depth += 1
        elif shape[i] == closer and (closer != ">" or closes_template(shape, i)):
            depth -= 1
            if depth == 0:
                return i
        i += 1
    return len(shape) - 1


def is_value_brace(shape, i):
    """Begins a list of values, not a block: clang-format leaves no space before it."""
    return i > 0 and (shape[i - 1].isalnum() or shape[i - 1] in "_>")


def scan_left(shape, i, whole_statement):
    """(where the expression or statement that ends before i begins, parentheses left on the way)."""
    left = 0
    while i > 0:
        i -= 1
        c = shape[i]
        if c in ")]" or closes_template(shape, i):
            opener = opener_of(shape, i)
            if c == ")" and STARTS_BODY.search(shape[:opener][-20:]):
                return i + 1, left
            i = opener
        elif c == "}":
            opener = opener_of(shape, i)
            if not is_value_brace(shape, opener):
                return i + 1, left
            i = opener
        elif c == ";" or (c == "{" and not is_value_brace(shape, i)):
            return i + 1, left
        elif c in "([{":
            if not whole_statement:
                return i + 1, left
            left += 1
        elif c == ":" and shape[i - 1] == ":":
            i -= 1
        elif c == "=" and shape[i - 1] in "=!<>":
            i -= 1
        elif c in ",?:=" and not whole_statement:
            return i + 1, left
        elif c.isalnum() or c == "_":
            end = i + 1
            while i > 0 and (shape[i - 1].isalnum() or shape[i - 1] == "_"):
                i -= 1
            word = shape[i:end]
            if word in ("else", "do") or (word in ENDS_EXPRESSION and not whole_statement):
                return end, left
    return 0, left


def scan_right(shape, i, whole_statement, left=0):
    """Where the expression that i lies in ends, or the statement with its semicolon; None where it is no statement."""
    while i < len(shape):
        c = shape[i]
        if c in "([" or opens_template(shape, i) or (c == "{" and (is_value_brace(shape, i) or whole_statement and left > 0)):
            i = closer_of(shape, i)
        elif c == "{":
            return None if whole_statement else i
        elif c in ")]}":
            if not whole_statement:
                return i
            if left == 0:
                return None
            left -= 1
        elif c == ";":
            if not whole_statement:
                return i
            return i + 1 if left == 0 else None
        elif c in ",?" and not whole_statement:
            return i
        elif c == ":" and not whole_statement:
            if shape[i + 1] != ":":
                return i
            i += 1
        i += 1
    return None if whole_statement else i


def trimmed(text, low, high):
    while low < high and text[low].isspace():
        low += 1
    while high > low and text[high - 1].isspace():
        high -= 1
    return low, high


class Source:
    """One file, into which mistakes are written."""

    def __init__(self, text):
        self.text = without_comments(text)
        self.shape = shape_of(self.text)
        self.line_starts = [0] + [m.end() for m in re.finditer("\n", self.text)]

    def place_of(self, mistake, way):
        """(low, high) of what is written twice; None where it cannot be written this way."""
        start, end = (self.line_starts[mistake.line] + at for at in (mistake.start, mistake.end))
        if mistake.by == ";":
            low, _ = trimmed(self.text, scan_left(self.shape, start, True)[0], end)
            return (start, end) if low == start and way == TERNARY else None
        if way == STATEMENT:
            low, left = scan_left(self.shape, start, True)
            high = scan_right(self.shape, end, True, left)
            if high is None or DECLARES.match(self.text[low:high].lstrip()):
                return None
            return trimmed(self.text, low, high)
        low, _ = scan_left(self.shape, start, False)
        place = trimmed(self.text, low, scan_right(self.shape, end, False))
        is_constant = "constexpr " in self.text[scan_left(self.shape, start, True)[0]: place[0]]
        return place if is_constant == (way == CONSTANT) else None

    def first_way(self, mistake, after=-1):
        return next((way for way in range(after + 1, ALONE) if self.place_of(mistake, way)), ALONE)

    def lines_of(self, mistake, way):
        low, high = self.place_of(mistake, way)
        return 1 + self.text.count("\n", 0, low), 1 + self.text.count("\n", 0, high)

    def with_one(self, mistake):
        start, end = (self.line_starts[mistake.line] + at for at in (mistake.start, mistake.end))
        return self.text[:start] + mistake.by + self.text[end:]

    def with_all(self, ways):
        """The text with every mistake of `ways` (mistake: way) in it, lines where they were."""
        places = {}
        for mistake, way in ways.items():
            if way != ALONE:
                start, end = (self.line_starts[mistake.line] + at for at in (mistake.start, mistake.end))
                is_statement = way == STATEMENT or mistake.by == ";"
                places.setdefault((*self.place_of(mistake, way), is_statement), []).append((mistake, start, end))
        for low in sorted(place[0] for place in places if CONSTANT in (ways[m] for m, _, _ in places[place])):
            at = self.text.find("constexpr ", scan_left(self.shape, low, True)[0], low)
            if at >= 0:
                self.text = self.text[:at] + "const     " + self.text[at + 10:]
        return self._written(0, len(self.text), places)

    def _written(self, low, high, places, within=None):
        out, at = [], low
        # Outer ones first; of one place the statement is the outer.
        inside = sorted((p for p in places if low <= p[0] and p[1] <= high and p not in (within or ())),
                        key=lambda p: (p[0], -p[1], not p[2]))
        for place in inside:
            if place[0] < at:
                continue
            out.append(self.text[at: place[0]])
            out.append(self._switched(place, places, (within or ()) + (place,)))
            at = place[1]
        out.append(self.text[at:high])
        return "".join(out)

    def _switched(self, place, places, within):
        low, high, is_statement = place
        in_condition = STARTS_BODY.search(self.shape[max(0, low - 20): low - 1]) and self.shape[low - 1] == "(" \
            and self.shape[high: high + 1] == ")"
        whole = "static_cast<bool>({})" if in_condition else "({})"
        out = ""
        for mistake, start, end in places[place]:
            changed = (self.text[low:start] + mistake.by + self.text[end:high]).replace("\n", " ")
            if is_statement:
                out += f"if (::tipwright::mutants::made({mistake.number})) {{ {changed} }} else "
            else:
                out += f"::tipwright::mutants::made({mistake.number}) ? {whole.format(changed)} : "
        kept = self._written(low, high, places, within)
        lines = self.text.count("\n", low, high)
        flat = kept.replace("\n", " ")
        out += f"{{ {flat} }}" if is_statement else whole.format(flat)
        return ("{ " + out + " }" if is_statement else "(" + out + ")") + "\n" * lines
