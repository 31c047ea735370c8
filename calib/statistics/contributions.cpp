#include "calib/statistics/contributions.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <string_view>

#include "calib/statistics/budget.hpp"

namespace tipwright::calib {

namespace {

constexpr double alike_within = 0.25;

using ByCause = std::vector<const Contribution*>;

ByCause by_cause(std::span<const Contribution> parts) {
    ByCause index;
    index.reserve(parts.size());
    for (const Contribution& part : parts) index.push_back(&part);
    std::stable_sort(index.begin(), index.end(),
                     [](const auto* a, const auto* b) { return a->cause < b->cause; });
    return index;
}

}  // namespace

double likeness(double at_a, double at_b) {
    if (at_a == at_b || !(at_a > 0) || !(at_b > 0)) return 1;
    const double apart = std::log(at_a / at_b) / alike_within;
    return std::exp(-apart * apart / 2);
}

double covariance(std::span<const Contribution> a, std::span<const Contribution> b) {
    const ByCause first = by_cause(a);
    const ByCause second = by_cause(b);
    double sum = 0;
    auto from = second.begin();
    for (const Contribution* part : first) {
        while (from != second.end() && (*from)->cause < part->cause) ++from;
        for (auto other = from; other != second.end() && (*other)->cause == part->cause; ++other)
            sum += part->size * (*other)->size * likeness(part->at, (*other)->at);
    }
    return sum;
}

Uncertain combined(double value, std::span<const Contribution> parts) {
    const ByCause index = by_cause(parts);
    double variance = 0;
    struct Estimated {
        double variance = 0;
        double dof = infinite_dof;
    };
    std::map<std::string_view, Estimated> estimates;
    for (auto begin = index.begin(); begin != index.end();) {
        auto end = begin;
        while (end != index.end() && (*end)->cause == (*begin)->cause) ++end;
        double of_cause = 0;
        double dof = infinite_dof;
        for (auto i = begin; i != end; ++i) {
            dof = std::min(dof, (*i)->dof);
            of_cause += (*i)->size * (*i)->size;
            for (auto j = begin; j != i; ++j)
                of_cause += 2 * (*i)->size * (*j)->size * likeness((*i)->at, (*j)->at);
        }
        of_cause = std::max(of_cause, 0.0);
        variance += of_cause;
        if (std::isfinite(dof)) {
            const std::string& named = (*begin)->estimate;
            Estimated& estimate = estimates[named.empty() ? (*begin)->cause : named];
            estimate.variance += of_cause;
            estimate.dof = std::min(estimate.dof, dof);
        }
        begin = end;
    }
    double fourth = 0;
    for (const auto& [name, estimate] : estimates)
        fourth += estimate.variance * estimate.variance / estimate.dof;
    return {value, std::sqrt(variance), welch_satterthwaite(variance, fourth)};
}

void add_scaled(Contributions& sum, std::span<const Contribution> parts, double factor) {
    for (const Contribution& part : parts) {
        sum.push_back(part);
        sum.back().size *= factor;
    }
}

}  // namespace tipwright::calib
