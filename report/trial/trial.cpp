#include "report/trial/trial.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "calib/statistics/distributions.hpp"
#include "report/record/record_checks.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report {

namespace {

namespace trial = calib::trial;

std::string called(const Record& record) {
    return "record " + visible(record.number) + " of gauge " + visible(record.identity.serial);
}

// What acts alike on every step and every gauge of the bench, in per cent of the error.
double common_u_percent(const calib::StepResult& step) {
    double sum = 0;
    for (const calib::BudgetComponent& component : step.budget)
        if (!component.cause.empty()) {
            const double part = component.relative_to_e() * component.u;
            sum += part * part;
        }
    return (100 + step.error_percent.value) * std::sqrt(sum);
}

std::vector<trial::TrialPoint> points_of(const Record& record) {
    std::vector<trial::TrialPoint> out;
    for (const calib::StepResult& step : stated_steps(record)) {
        if (!step.reference_intensity_mm_h) continue;
        out.push_back(
            {step.reference_intensity_mm_h->value, step.error_percent.value, common_u_percent(step)});
    }
    return out;
}

struct Measured {
    std::vector<const Record*> found;
    std::vector<const Record*> left;
};
using Specimens = std::map<std::string, Measured>;  // by serial

// Mean error over the intensities that both records have, as found and as left.
std::optional<std::pair<double, double>> pair_of(const Record& found, const Record& left) {
    double before = 0;
    double after = 0;
    int common = 0;
    const auto points = points_of(left);
    for (const trial::TrialPoint& a : points_of(found))
        for (const trial::TrialPoint& b : points)
            if (std::abs(std::log(a.intensity_mm_h / b.intensity_mm_h)) < 0.08) {
                before += a.error_percent;
                after += b.error_percent;
                ++common;
                break;
            }
    if (common == 0) return std::nullopt;
    return std::pair{before / common, after / common};
}

struct MeanSd {
    double mean = 0;
    double sd = 0;
};
MeanSd mean_sd(const std::vector<double>& values) {
    MeanSd out;
    for (double value : values) out.mean += value / static_cast<double>(values.size());
    for (double value : values) out.sd += (value - out.mean) * (value - out.mean);
    out.sd = values.size() > 1 ? std::sqrt(out.sd / static_cast<double>(values.size() - 1)) : 0;
    return out;
}

std::optional<AdjustmentEffect> adjustment_of(const Specimens& specimens, double coverage) {
    std::vector<double> before;
    std::vector<double> after;
    std::vector<double> change;
    for (const auto& [serial, measured] : specimens) {
        if (measured.found.empty() || measured.left.empty()) continue;
        const auto pair = pair_of(*measured.found.back(), *measured.left.back());
        if (!pair) continue;
        before.push_back(pair->first);
        after.push_back(pair->second);
        change.push_back(pair->second - pair->first);
    }
    if (before.size() < 2) return std::nullopt;
    AdjustmentEffect out;
    out.gauges = static_cast<int>(before.size());
    const MeanSd found = mean_sd(before);
    const MeanSd left = mean_sd(after);
    const MeanSd moved = mean_sd(change);
    out.found_mean = found.mean;
    out.found_sd = found.sd;
    out.left_mean = left.mean;
    out.left_sd = left.sd;
    const double n = static_cast<double>(change.size());
    out.change = {moved.mean, moved.sd / std::sqrt(n), n - 1};
    out.U_change = calib::expanded(out.change, coverage).U;
    return out;
}

trial::SpreadInterval in_percent(trial::SpreadInterval interval) {
    return {100 * interval.sd, 100 * interval.low, 100 * interval.high};
}

Result<TrialKind> kind_of(const std::string& kind, const Specimens& specimens, const TrialRequest& request) {
    TrialKind out;
    out.kind = kind;
    trial::KindData data{kind, 0, {}};
    const bool any_left = std::any_of(specimens.begin(), specimens.end(),
                                      [](const auto& one) { return !one.second.left.empty(); });
    out.state = any_left ? State::as_left : State::as_found;
    for (const auto& [serial, measured] : specimens) {
        // What was not adjusted was left as it was found.
        const auto& records = measured.left.empty() ? measured.found : measured.left;
        TrialSpecimen specimen{serial, 0, 0};
        for (const Record* record : records) {
            trial::TrialRun run{data.specimens, points_of(*record)};
            if (run.points.empty()) continue;
            data.runs.push_back(std::move(run));
            ++specimen.runs;
            out.title = record->identity.kind_title;
            out.tip_mm = record->gauge.nominal_tip_mm;
            out.siphon_mm = record->gauge.inlet == calib::Inlet::siphon
                                ? 10 * record->gauge.siphon_volume_mL / record->gauge.catch_area_cm2().value
                                : 0;
        }
        if (specimen.runs == 0) continue;
        out.specimens.push_back(std::move(specimen));
        ++data.specimens;
    }
    auto model = trial::model_kind(data);
    if (!model) return model.fault();
    out.model = std::move(*model);
    const auto spread = trial::profile_intervals(out.model.data, out.model.model, request.coverage);
    if (!spread) return spread.fault();
    out.spread = {in_percent(spread->level), in_percent(spread->tilt), in_percent(spread->run),
                  in_percent(spread->residual)};
    for (std::size_t i = 0; i < out.specimens.size(); ++i)
        out.specimens[i].level_percent = -100 * out.model.model.specimen_effects[i][0];
    for (double knot : out.model.knots_mm_h)
        out.curve.push_back(trial::curve_at(out.model, knot, request.coverage));
    out.kept = trial::kept_range(out.model, request.limit_percent, request.probability);
    out.adjustment = adjustment_of(specimens, request.coverage);
    return out;
}

std::optional<Fault> fault_in(const std::vector<Record>& records, const TrialRequest& request) {
    const auto bad = [](const std::string& what, const std::string& remedy) {
        return Fault{FaultCode::bad_value, what, "trial", remedy};
    };
    if (records.empty())
        return Fault{FaultCode::too_few_points, "no records", "trial", "give records of several gauges"};
    if (records.size() > max_trial_records)
        return bad(std::to_string(records.size()) + " records",
                   "give at most " + std::to_string(max_trial_records));
    if (!(request.limit_percent > 0 && request.limit_percent < 100))
        return bad(std::to_string(request.limit_percent) + " % cannot be a limit", "give 0 to 100 %");
    for (double p : {request.probability, request.required, request.coverage})
        if (!(p > 0.5 && p < 1))
            return bad(std::to_string(p) + " is no probability asked for", "give for example 0.95");
    return std::nullopt;
}

}  // namespace

Result<Trial> make_trial(const std::vector<Record>& records, const std::vector<TrialSite>& sites,
                         const std::vector<KindHistory>& histories, const trial::Costs& costs,
                         const TrialRequest& request) {
    if (auto fault = fault_in(records, request)) return *fault;
    Trial out;
    out.request = request;
    out.currency = costs.currency;

    std::vector<const Record*> ordered;
    ordered.reserve(records.size());
    for (const Record& record : records) ordered.push_back(&record);
    std::stable_sort(ordered.begin(), ordered.end(),
                     [](const Record* a, const Record* b) { return a->started_at < b->started_at; });
    std::map<std::string, Specimens> kinds;
    for (const Record* record : ordered) {
        const std::string& kind = record->identity.kind;
        if (!request.kinds.empty() &&
            std::find(request.kinds.begin(), request.kinds.end(), kind) == request.kinds.end())
            continue;
        if (const auto fault = check_results(*record)) {
            out.left_out.push_back({called(*record), fault->what});
            continue;
        }
        if (record->identity.serial.empty()) {
            out.left_out.push_back(
                {called(*record), "without a serial number nobody knows which gauge it was"});
            continue;
        }
        ++out.records;
        out.invented = out.invented || record->invented;
        out.virtual_bench = out.virtual_bench || record->origin == Origin::virtual_bench;
        out.supplied = out.supplied || record->origin == Origin::supplied_data;
        if (out.from.empty()) out.from = record->started_at;
        out.to = record->started_at;
        Measured& measured = kinds[kind][record->identity.serial];
        (record->state == State::as_left ? measured.left : measured.found).push_back(record);
    }
    for (const auto& [kind, specimens] : kinds) {
        auto one = kind_of(kind, specimens, request);
        if (!one) {
            out.left_out.push_back(
                {kind.empty() ? "gauges without a kind" : kind,
                 one.fault().what + (one.fault().remedy.empty() ? "" : "; " + one.fault().remedy)});
            continue;
        }
        for (const KindHistory& history : histories)
            if (history.kind == kind) one->history = history;
        if (const auto cost = costs.kinds.find(kind); cost != costs.kinds.end()) one->cost = cost->second;
        out.kinds.push_back(std::move(*one));
    }
    if (out.kinds.empty())
        return Fault{FaultCode::too_few_points,
                     out.left_out.empty() ? "no record is of a kind asked for"
                                          : out.left_out.front().what + ": " + out.left_out.front().why,
                     "trial", "give records of at least two gauges of a kind"};
    if (out.kinds.size() > max_trial_kinds)
        return Fault{FaultCode::bad_value, std::to_string(out.kinds.size()) + " kinds", "trial",
                     "name at most " + std::to_string(max_trial_kinds) + " with --kind"};

    std::vector<trial::PlacedKind> placed;
    for (const TrialKind& kind : out.kinds) placed.push_back({&kind.model, kind.tip_mm, kind.siphon_mm});
    for (const TrialSite& site : sites) {
        TrialPlace place;
        place.site = site;
        place.result = trial::judge_place(placed, site.climate);
        place.choice = trial::choose(placed, site.climate, request.by, request.corrected, request.required);
        place.duels = trial::duels(placed, site.climate, request.by, request.corrected);
        out.places.push_back(std::move(place));
    }
    return out;
}

std::optional<double> cost_per_percent(const Trial& trial, const TrialPlace& place, std::size_t kind) {
    std::optional<std::size_t> cheapest;
    for (std::size_t k = 0; k < trial.kinds.size(); ++k) {
        if (!trial.kinds[k].cost) continue;
        if (!cheapest || trial.kinds[k].cost->yearly() < trial.kinds[*cheapest].cost->yearly()) cheapest = k;
    }
    if (!cheapest || *cheapest == kind || !trial.kinds[kind].cost) return std::nullopt;
    const auto rms = [&](std::size_t k) {
        return place.result.of(k, trial.request.by, trial.request.corrected).rms;
    };
    const double gained = rms(*cheapest) - rms(kind);
    if (!(gained > 0.01)) return std::nullopt;
    return (trial.kinds[kind].cost->yearly() - trial.kinds[*cheapest].cost->yearly()) / gained;
}

}  // namespace tipwright::report
