// Sides: what is said of them is recognised again, and a bucket that lay on its other side is noticed. Built
// backwards from chosen differences.
#include "calib/tips/sides.hpp"

#include <catch2/catch.hpp>
#include <vector>

using namespace tipwright;
using namespace tipwright::calib;

namespace {

StepObservation collect(double a_excess_percent, double u_percent) {
    StepObservation out;
    out.compartments = CompartmentBalance{a_excess_percent, u_percent, 20};
    return out;
}

}  // namespace

TEST_CASE("sides: the sentence of a record is recognised, and doubt goes before knowledge") {
    const SideMarks marks{"at the dab of paint", ""};
    const std::vector<std::string> none{"The link to the balance was lost: no reason."};
    CHECK(sides_said(none) == SidesSaid::nothing);
    std::vector<std::string> remarks = none;
    remarks.push_back(sides_known_text(marks, 'B'));
    CHECK(remarks.back().find("side A (at the dab of paint)") != std::string::npos);
    CHECK(remarks.back().find("side B") != std::string::npos);
    CHECK(sides_said(remarks) == SidesSaid::known);
    remarks.push_back(sides_moved_text());
    CHECK(sides_said(remarks) == SidesSaid::known);
    remarks.push_back(sides_turned_text(3));
    CHECK(sides_said(remarks) == SidesSaid::unknown);
    CHECK(side_text(marks, 'B') == "side B");
    const auto read = read_sides_known(sides_known_text(marks, 'B'));
    REQUIRE(read.has_value());
    CHECK(read->mark_a == "at the dab of paint");
    CHECK(read->up == 'B');
    CHECK(read_sides_known(sides_known_text({}, 'A'))->mark_a.empty());
    CHECK(read_sides_turned(sides_turned_text(12)) == 12);
    for (const std::string& other : {none[0], sides_moved_text(), sides_turned_text(3) + " Or so.",
                                     "He said: " + sides_known_text(marks, 'A')}) {
        CHECK_FALSE(read_sides_known(other));
        CHECK_FALSE(read_sides_turned(other));
    }
}

TEST_CASE("sides: a difference that turns over is noticed where it stands out, and only there") {
    const auto at = [](const std::vector<StepObservation>& collects) { return turned_over_at(collects); };
    CHECK_FALSE(at({}));
    CHECK_FALSE(at({collect(0.8, 0.1), collect(0.7, 0.1), collect(0.9, 0.2)}));
    CHECK(at({collect(0.8, 0.1), collect(0.7, 0.1), collect(-0.8, 0.1)}) == std::size_t{2});
    CHECK(at({collect(-0.8, 0.1), collect(0.7, 0.1)}) == std::size_t{1});
    // Within its uncertainty a sign says nothing; a collect without a difference says nothing.
    CHECK_FALSE(at({collect(0.8, 0.1), collect(-0.2, 0.1)}));
    CHECK_FALSE(at({collect(0.2, 0.1), collect(-0.8, 0.1)}));
    StepObservation spoon;
    CHECK(at({collect(0.8, 0.1), spoon, collect(-0.8, 0.1)}) == std::size_t{2});
    // Many weak ones together know as well as a strong one.
    std::vector<StepObservation> weak(16, collect(0.5, 0.4));
    weak.push_back(collect(-0.5, 0.05));
    CHECK(at(weak) == std::size_t{16});
    CHECK_FALSE(at({collect(0.8, 0), collect(-0.8, 0.1)}));
}

TEST_CASE("sides: swapped twice they are as they were") {
    StepObservation one = collect(0.8, 0.1);
    one.findings.push_back(finding_of(FindingId::compartment_a_larger, {{"percent", 3, 1}}));
    swap_sides(one);
    CHECK(one.compartments->a_excess_percent == -0.8);
    CHECK(one.findings.front().id == FindingId::compartment_b_larger);
    swap_sides(one);
    CHECK(one.compartments->a_excess_percent == 0.8);
    CHECK(one.findings.front().id == FindingId::compartment_a_larger);
}
