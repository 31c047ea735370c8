#include "calib/tips/sides.hpp"

#include <charconv>
#include <cmath>
#include <regex>
#include <string_view>

namespace tipwright::calib {

namespace {

constexpr double stands_out = 3;
constexpr const char* known_begins = "Compartment A is ";
constexpr const char* unknown_begins = "Which side of the bucket is compartment A is not known";
constexpr const char* turned_over = ": the difference between A and B turned over at step ";
constexpr const char* turned_why = "; a tip was lost, or the bucket was laid on its other side.";

bool begins(const std::string& text, const std::string& with) {
    return text.compare(0, with.size(), with) == 0;
}

}  // namespace

std::string side_text(const SideMarks& marks, char side) {
    const std::string& mark = side == 'A' ? marks.a : marks.b;
    return std::string("side ") + side + (mark.empty() ? "" : " (" + mark + ")");
}

std::string sides_known_text(const SideMarks& marks, char up) {
    return known_begins + side_text(marks, 'A') + ": before the first tip side " + up +
           " was said to rest up.";
}

std::string sides_moved_text() {
    return "When the run was resumed the bucket lay on the other side than the tips before tell: it was "
           "moved in "
           "between.";
}

std::string sides_turned_text(int step) {
    return std::string(unknown_begins) + turned_over + std::to_string(step) + turned_why;
}

std::optional<SidesKnown> read_sides_known(const std::string& text) {
    static const std::regex sentence(
        std::string(known_begins) +
        R"(side A(?: \(([^\n]*)\))?: before the first tip side ([AB]) was said to rest up\.)");
    std::smatch found;
    if (!std::regex_match(text, found, sentence)) return std::nullopt;
    return SidesKnown{found[1], *found[2].first};
}

std::optional<int> read_sides_turned(const std::string& text) {
    const std::string before = std::string(unknown_begins) + turned_over;
    int step = 0;
    if (!begins(text, before)) return std::nullopt;
    const char* const end = text.data() + text.size();
    const auto [rest, wrong] = std::from_chars(text.data() + before.size(), end, step);
    if (wrong != std::errc() || std::string_view(rest, static_cast<std::size_t>(end - rest)) != turned_why)
        return std::nullopt;
    return step;
}

SidesSaid sides_said(std::span<const std::string> remarks) {
    SidesSaid said = SidesSaid::nothing;
    for (const std::string& remark : remarks) {
        if (begins(remark, unknown_begins)) return SidesSaid::unknown;
        if (begins(remark, known_begins)) said = SidesSaid::known;
    }
    return said;
}

std::optional<std::size_t> turned_over_at(std::span<const StepObservation> collects) {
    double weights = 0;
    double mean = 0;
    for (std::size_t i = 0; i < collects.size(); ++i) {
        const auto& sides = collects[i].compartments;
        if (!sides || !(sides->u_percent > 0)) continue;
        const double excess = sides->a_excess_percent;
        const bool told = std::fabs(excess) > stands_out * sides->u_percent &&
                          std::fabs(mean) > stands_out / std::sqrt(weights);
        if (weights > 0 && told && excess * mean < 0 && std::fabs(excess + mean) < std::fabs(excess - mean))
            return i;
        const double weight = 1 / (sides->u_percent * sides->u_percent);
        mean += weight / (weights + weight) * (excess - mean);
        weights += weight;
    }
    return std::nullopt;
}

void swap_sides(StepObservation& collect) {
    if (collect.compartments) collect.compartments->a_excess_percent *= -1;
    for (Finding& finding : collect.findings) {
        if (finding.id == FindingId::compartment_a_larger)
            finding.id = FindingId::compartment_b_larger;
        else if (finding.id == FindingId::compartment_b_larger)
            finding.id = FindingId::compartment_a_larger;
    }
}

}  // namespace tipwright::calib
