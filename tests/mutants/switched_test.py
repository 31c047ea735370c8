"""Where an expression begins and ends is told from its text alone: the hard places, and that every line stays where it was."""
import os
import sys
import unittest

sys.path.insert(0, os.path.dirname(__file__))
import mistakes
import switched


def places(text, by=None):
    """What would be written twice for each mistake of the text."""
    source = switched.Source(text)
    out = []
    for m in mistakes.mistakes_of("calib/base/x.cpp", text):
        if by is None or m.by.strip() == by:
            low, high = source.place_of(m, source.first_way(m))
            out.append(" ".join(source.text[low:high].split()))
    return out


class Switched(unittest.TestCase):
    def test_an_expression_ends_at_its_own_brackets_commas_and_keywords(self):
        self.assertEqual(places("  return a + b;", "-"), ["a + b"])
        self.assertEqual(places("  f(x, a * (b + c), y);", "-"), ["b + c"])
        self.assertEqual(places("  f(x, a * (b + c), y);", "/"), ["a * (b + c)"])
        self.assertEqual(places("  x = on ? a - b : c;", "+"), ["a - b"])
        self.assertEqual(places("  for (auto x : a + b) g(x);", "-"), ["a + b"])
        self.assertEqual(places("  const auto y = std::max<double>(a, b) - T{1, c};", "+"), ["std::max<double>(a, b) - T{1, c}"])

    def test_a_comparison_is_not_taken_for_a_template(self):
        self.assertEqual(places("  const bool y = a < b + c;", "<="), ["a < b + c"])
        self.assertEqual(places("  const auto y = std::map<int, int>{}.at(k) - z;", "+"), ["std::map<int, int>{}.at(k) - z"])

    def test_a_statement_after_a_condition_is_taken_alone(self):
        self.assertEqual(places("  if (on) total += at;", "-="), ["total += at"])
        self.assertEqual(places("  if (on) return a + b;", "-"), ["a + b"])

    def test_an_expression_of_several_lines_is_taken_whole(self):
        self.assertEqual(places("  return a *  // one\n         (b - c) *\n         d + e;\n", "-"), ["a * (b - c) * d + e"])

    def test_the_tail_of_a_statement_is_no_call_to_leave_out(self):
        text = "  const auto x = first(a) +\n      second(b);\n"
        [m] = [m for m in mistakes.mistakes_of("calib/base/x.cpp", text) if m.by == ";"]
        self.assertEqual(switched.Source(text).first_way(m), switched.ALONE)

    def test_a_constant_expression_becomes_a_constant(self):
        text = "constexpr int pieces = 64;\n"
        [m] = mistakes.mistakes_of("calib/base/x.cpp", text)
        self.assertEqual(switched.Source(text).first_way(m), switched.CONSTANT)
        self.assertEqual(switched.Source(text).with_all({m: switched.CONSTANT}),
                         f"const     int pieces = (::tipwright::mutants::made({m.number}) ? (128) : (64));\n")

    def test_all_mistakes_stand_in_one_text_and_lines_stay(self):
        text = "double f(double a, double b) {\n  if (a > b && // why\n      b > 1) {\n    g(a);\n    return a - b;\n  }\n  return a * b + 2;\n}\n"
        all_of_them = list(mistakes.mistakes_of("calib/base/x.cpp", text))
        source = switched.Source(text)
        written = switched.Source(text).with_all({m: source.first_way(m) for m in all_of_them})
        self.assertGreater(len(all_of_them), 8)
        for m in all_of_them:
            self.assertEqual(written.count(f"made({m.number})"), 1, m.text)
        self.assertEqual(written.count("\n"), text.count("\n"))

    def test_text_that_is_put_together_is_no_sum(self):
        self.assertEqual(places('  return "a" + b;'), [])
        self.assertEqual(places('  x += "a";'), [])


if __name__ == "__main__":
    unittest.main()
