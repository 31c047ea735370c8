#include "bench/run/newest_result.hpp"

#include <utility>

#include "calib/tips/pooled_scatter.hpp"

namespace tipwright::bench {

std::optional<NewestResult> newest_result(const CollectBasis& basis,
                                          std::vector<calib::StepObservation>& measured, std::size_t opening,
                                          std::optional<std::size_t> looked_at, double now_s) {
    const auto& tips = basis.tracker.tips();
    if (tips.empty()) return std::nullopt;
    // A siphon's collect may hold an odd number: to wait for an even one would pick emptyings of two tips
    // and leave out those of three, whose tips hold less.
    const bool any_number = basis.gauge.compartments == 1 || basis.gauge.inlet == calib::Inlet::siphon;
    const std::size_t sides = any_number ? 1 : 2;
    for (std::size_t k = tips.size() - 1; k > looked_at.value_or(opening); --k) {
        if ((k - opening) % sides != 0) continue;
        if (!basis.tracker.may_be_edge(k, now_s) || !basis.tracker.readings_reach(opening, k)) continue;
        auto observation = basis.tracker.observe(opening, k);
        if (!observation) return std::nullopt;
        // Steps already measured know the gauge's scatter better than a few tips do.
        measured.push_back(*observation);
        const calib::TipScatter scatter = calib::pooled_scatter(measured, measured.size() - 1, basis.gauge);
        measured.pop_back();
        auto result =
            calib::evaluate_step(*observation, basis.gauge, basis.metrology, basis.coverage, scatter);
        if (!result) return std::nullopt;
        return NewestResult{k, std::move(*result)};
    }
    return std::nullopt;
}

}  // namespace tipwright::bench
