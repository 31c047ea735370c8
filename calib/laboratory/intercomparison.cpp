#include "calib/laboratory/intercomparison.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::calib {

namespace {

constexpr double mad_to_sd = 1.483;
constexpr double winsor_width = 1.5;
constexpr double winsor_sd = 1.134;
constexpr double robust_mean_u = 1.25;
constexpr double u_that_counts = 0.3;
constexpr double settled = 1e-10;
constexpr int most_iterations = 1000;

Fault fault(FaultCode code, const std::string& what, const std::string& remedy) {
    return {code, what, "intercomparison", remedy};
}

double middle(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    const std::size_t half = values.size() / 2;
    return values.size() % 2 == 1 ? values[half] : (values[half - 1] + values[half]) / 2;
}

Score score_of(double z) {
    return std::abs(z) <= 2  ? Score::satisfactory
           : std::abs(z) < 3 ? Score::questionable
                             : Score::unsatisfactory;
}

}  // namespace

double RobustMean::u() const {
    return robust_mean_u * sd / std::sqrt(static_cast<double>(values));
}

Result<RobustMean> algorithm_a(const std::vector<double>& values) {
    if (values.size() < 3)
        return fault(FaultCode::too_few_points, "fewer than three values make no consensus",
                     "give a reference value");
    for (const double value : values)
        if (!std::isfinite(value)) return fault(FaultCode::not_finite, "a value is not finite", "mend it");
    RobustMean out;
    out.values = static_cast<int>(values.size());
    out.mean = middle(values);
    std::vector<double> away;
    away.reserve(values.size());
    for (const double value : values) away.push_back(std::abs(value - out.mean));
    out.sd = mad_to_sd * middle(away);
    if (!(out.sd > 0)) {
        // More than half are alike: start from the plain standard deviation (ISO 13528:2022, C.3, note).
        double sum = 0;
        for (const double value : values) sum += (value - out.mean) * (value - out.mean);
        out.sd = std::sqrt(sum / (static_cast<double>(values.size()) - 1));
    }
    while (out.sd > 0 && out.iterations < most_iterations) {
        ++out.iterations;
        const double low = out.mean - winsor_width * out.sd, high = out.mean + winsor_width * out.sd;
        double off = 0;
        for (const double value : values) off += std::clamp(value, low, high) - out.mean;
        const double mean = out.mean + off / static_cast<double>(values.size());
        double squares = 0;
        for (const double value : values) {
            const double d = std::clamp(value, low, high) - mean;
            squares += d * d;
        }
        const double sd = winsor_sd * std::sqrt(squares / (static_cast<double>(values.size()) - 1));
        const bool done =
            std::abs(mean - out.mean) <= settled * out.sd && std::abs(sd - out.sd) <= settled * out.sd;
        out.mean = mean;
        out.sd = sd;
        if (done) break;
    }
    return out;
}

Result<Intercomparison> intercompare(const std::vector<Participant>& participants,
                                     const std::optional<AssignedValue>& reference,
                                     const std::optional<double>& sigma_pt) {
    if (participants.empty()) return fault(FaultCode::too_few_points, "nobody takes part", "give results");
    std::vector<double> values;
    for (const Participant& one : participants) {
        if (!std::isfinite(one.value))
            return fault(FaultCode::not_finite, "the value of " + in_quotes(one.name) + " is not finite",
                         "mend it");
        if ((one.U && !(*one.U > 0 && std::isfinite(*one.U))) || !(one.k > 0))
            return fault(FaultCode::bad_value, "U or k of " + in_quotes(one.name) + " is not above 0",
                         "give what its certificate says, or leave U empty");
        values.push_back(one.value);
    }
    if (sigma_pt && !(*sigma_pt > 0 && std::isfinite(*sigma_pt)))
        return fault(FaultCode::bad_value, "the standard deviation for proficiency is not above 0",
                     "mend it");
    Intercomparison out;
    out.sigma_pt = sigma_pt;
    if (reference) {
        if (!(reference->U >= 0 && reference->k > 0 && std::isfinite(reference->value)))
            return fault(FaultCode::bad_value, "the reference value lacks its U or k", "give both");
        out.assigned = *reference;
        out.assigned.consensus = false;
    } else {
        const auto robust = algorithm_a(values);
        if (!robust) return robust.fault();
        out.assigned = {robust->mean, 2 * robust->u(), 2, true, robust->sd};
        if (!out.sigma_pt && robust->sd > 0) out.sigma_pt = robust->sd;
    }
    const double u_X = out.assigned.U / out.assigned.k;
    out.z_includes_u = out.sigma_pt && u_X > u_that_counts * *out.sigma_pt;
    for (const Participant& one : participants) {
        ParticipantScore score;
        score.difference = one.value - out.assigned.value;
        if (one.U) {
            score.zeta = score.difference / std::hypot(*one.U / one.k, u_X);
            score.by_zeta = score_of(*score.zeta);
            if (!out.assigned.consensus) {
                score.en = score.difference / std::hypot(*one.U, out.assigned.U);
                score.agrees = std::abs(*score.en) <= 1;
            }
        }
        if (out.sigma_pt) {
            score.z = score.difference / (out.z_includes_u ? std::hypot(*out.sigma_pt, u_X) : *out.sigma_pt);
            score.by_z = score_of(*score.z);
        }
        out.scores.push_back(score);
    }
    return out;
}

}  // namespace tipwright::calib
