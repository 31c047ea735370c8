// The trial as CSV and JSON.
#include "report/trial/trial_tables.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

#include "calib/base/rounding.hpp"
#include "report/files/inert_text.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report {

namespace {

using namespace calib::trial;
using nlohmann::ordered_json;

std::string number(double value) {
    return std::isfinite(value) ? calib::fixed(value, 4) : "";
}

ordered_json json_number(double value) {
    return std::isfinite(value) ? ordered_json(value) : ordered_json(nullptr);
}

ordered_json json_of(const SpreadInterval& interval) {
    return {{"sd_percent", interval.sd}, {"low", interval.low}, {"high", interval.high}};
}

ordered_json json_of(const EventRate& rate) {
    return {{"events", rate.events},
            {"gauge_years", rate.exposure},
            {"per_gauge_year", json_number(rate.per_unit)},
            {"low", json_number(rate.low)},
            {"high", json_number(rate.high)}};
}

ordered_json json_of(const calib::Uncertain& value, double U) {
    return {{"value", value.value}, {"u", value.u}, {"dof", json_number(value.dof)}, {"U", json_number(U)}};
}

ordered_json json_of(const KindHistory& history) {
    ordered_json out = {{"gauges", history.gauges},
                        {"gauge_years", history.gauge_years},
                        {"services", json_of(history.services)},
                        {"adjustments", json_of(history.adjustments)},
                        {"missed_closures", json_of(history.missed_closures)}};
    auto& findings = out["findings"] = ordered_json::array();
    for (const KindHistory::Found& found : history.findings)
        findings.push_back({{"found", found.what}, {"rate", json_of(found.rate)}});
    if (history.drift)
        out["drift"] = {{"at_mm_h", history.drift_at_mm_h},
                        {"percent_per_year", history.drift->percent_per_year.value},
                        {"U", json_number(history.drift->U_percent_per_year)},
                        {"stretches", history.drift->stretches}};
    return out;
}

ordered_json json_of(const Trial& trial, const TrialKind& kind) {
    ordered_json out = {{"kind", kind.kind},
                        {"title", kind.title},
                        {"state", kind.state == State::as_left ? "as_left" : "as_found"},
                        {"runs", kind.model.runs},
                        {"u_common_percent", kind.model.u_common_percent}};
    auto& specimens = out["specimens"] = ordered_json::array();
    for (const TrialSpecimen& one : kind.specimens)
        specimens.push_back(
            {{"serial", one.serial}, {"runs", one.runs}, {"level_percent", one.level_percent}});
    auto& curve = out["curve"] = ordered_json::array();
    for (const CurveValue& at : kind.curve)
        curve.push_back({{"intensity_mm_h", at.intensity_mm_h},
                         {"mean_percent", json_of(at.mean, at.U_mean)},
                         {"between_sd_percent", at.between_sd},
                         {"within_sd_percent", at.within_sd},
                         {"low_percent", json_number(at.low)},
                         {"high_percent", json_number(at.high)}});
    out["spread"] = {{"level", json_of(kind.spread.level)},
                     {"tilt_at_highest", json_of(kind.spread.tilt)},
                     {"run", json_of(kind.spread.run)},
                     {"residual", json_of(kind.spread.residual)}};
    out["kept"] = {{"limit_percent", trial.request.limit_percent},
                   {"probability", trial.request.probability},
                   {"at_all", kind.kept.at_all},
                   {"to_mm_h", kind.kept.to_mm_h},
                   {"to_the_end", kind.kept.to_the_end}};
    if (kind.adjustment)
        out["adjustment"] = {{"gauges", kind.adjustment->gauges},
                             {"found_mean_percent", kind.adjustment->found_mean},
                             {"found_sd_percent", kind.adjustment->found_sd},
                             {"left_mean_percent", kind.adjustment->left_mean},
                             {"left_sd_percent", kind.adjustment->left_sd},
                             {"change_percent", json_of(kind.adjustment->change, kind.adjustment->U_change)}};
    if (kind.history) out["in_service"] = json_of(*kind.history);
    if (kind.cost) out["cost_a_year"] = kind.cost->yearly();
    return out;
}

ordered_json json_of(const Trial& trial, const TrialPlace& place) {
    const Choice& choice = place.choice;
    ordered_json out = {{"place", place.site.title},
                        {"source", place.site.source},
                        {"amount_mm_a_year", place.site.climate.amount_mm},
                        {"worst_minutes_together", place.site.adjacent_assumed}};
    for (const RainMaximum& most : place.site.climate.maxima)
        out["max_" + std::to_string(most.minutes) + "_min_mm"] = most.amount_mm;
    auto& errors = out["errors"] = ordered_json::array();
    for (std::size_t k = 0; k < trial.kinds.size(); ++k)
        for (std::size_t a = 0; a < amount_names.size(); ++a)
            for (std::size_t c = 0; c < corrected_names.size(); ++c) {
                const AmountError& error =
                    place.result.of(k, static_cast<Amount>(a), static_cast<Corrected>(c));
                errors.push_back({{"kind", trial.kinds[k].kind},
                                  {"amount", amount_names[a]},
                                  {"corrected", corrected_names[c]},
                                  {"mean_percent", json_of(error.mean, error.U_mean)},
                                  {"between_sd_percent", error.between_sd},
                                  {"within_sd_percent", error.within_sd},
                                  {"grain_sd_percent", error.grain_sd},
                                  {"rms_percent", error.rms},
                                  {"rms_low", error.rms_low},
                                  {"rms_high", error.rms_high},
                                  {"probability_smallest", error.best},
                                  {"beyond_trial", error.beyond_trial}});
            }
    auto& duels = out["duels"] = ordered_json::array();
    for (const Duel& duel : place.duels)
        duels.push_back({{"kind", trial.kinds[duel.a].kind},
                         {"before", trial.kinds[duel.b].kind},
                         {"probability_of_kind", duel.kind},
                         {"probability_of_one_gauge", duel.gauge}});
    out["choice"] = {
        {"kind", trial.kinds[choice.kind].kind},
        {"probability", choice.probability},
        {"supported", choice.supported},
        {"specimens_to_decide", choice.specimens ? ordered_json(*choice.specimens) : ordered_json(nullptr)},
        {"runs_to_decide", choice.runs ? ordered_json(*choice.runs) : ordered_json(nullptr)},
        {"sentence", choice_sentence(trial, place)}};
    ordered_json costs = ordered_json::array();
    for (std::size_t k = 0; k < trial.kinds.size(); ++k)
        if (const auto cost = cost_per_percent(trial, place, k))
            costs.push_back({{"kind", trial.kinds[k].kind}, {"a_year_for_each_percent", *cost}});
    if (!costs.empty()) out["costs"] = costs;
    return out;
}

std::string heading(const Trial& trial, const char* what) {
    std::string out = std::string("# tipwright trial: ") + what + "\n";
    if (trial.invented) out += "# DEMONSTRATION: identities and data are invented\n";
    if (trial.virtual_bench) out += "# VIRTUAL BENCH: no real gauge was measured\n";
    return out;
}

}  // namespace

std::string trial_curves_csv(const Trial& trial) {
    std::string out =
        heading(trial, "curves; errors in per cent, U expanded uncertainty of the mean gauge") +
        "kind,specimens,runs,intensity_mm_h,mean_percent,U_percent,between_sd_percent,within_sd_percent,"
        "low_percent,high_percent,probability_within\n";
    for (const TrialKind& kind : trial.kinds)
        for (const CurveValue& at : kind.curve)
            out += text_field(kind.kind) + "," + std::to_string(kind.model.specimens) + "," +
                   std::to_string(kind.model.runs) + "," + number(at.intensity_mm_h) + "," +
                   number(at.mean.value) + "," + number(at.U_mean) + "," + number(at.between_sd) + "," +
                   number(at.within_sd) + "," + number(at.low) + "," + number(at.high) + "," +
                   number(probability_within(kind.model, at.intensity_mm_h, trial.request.limit_percent)) +
                   "\n";
    return out;
}

std::string trial_places_csv(const Trial& trial) {
    std::string out =
        heading(trial, "places; errors in per cent of the amount") +
        "place,kind,amount,corrected,mean_percent,U_percent,between_sd_percent,within_sd_percent,"
        "grain_sd_percent,rms_percent,rms_low,rms_high,probability_smallest,beyond_trial\n";
    for (const TrialPlace& place : trial.places)
        for (std::size_t k = 0; k < trial.kinds.size(); ++k)
            for (std::size_t a = 0; a < amount_names.size(); ++a)
                for (std::size_t c = 0; c < corrected_names.size(); ++c) {
                    const AmountError& error =
                        place.result.of(k, static_cast<Amount>(a), static_cast<Corrected>(c));
                    out += text_field(place.site.title) + "," + text_field(trial.kinds[k].kind) + "," +
                           amount_names[a] + "," + corrected_names[c] + "," + number(error.mean.value) + "," +
                           number(error.U_mean) + "," + number(error.between_sd) + "," +
                           number(error.within_sd) + "," + number(error.grain_sd) + "," + number(error.rms) +
                           "," + number(error.rms_low) + "," + number(error.rms_high) + "," +
                           number(error.best) + "," + number(error.beyond_trial) + "\n";
                }
    return out;
}

std::string trial_json(const Trial& trial) {
    ordered_json out = {{"ok", true},
                        {"records", trial.records},
                        {"invented", trial.invented},
                        {"virtual_bench", trial.virtual_bench},
                        {"chosen_by", amount_names[static_cast<std::size_t>(trial.request.by)]},
                        {"corrected", corrected_names[static_cast<std::size_t>(trial.request.corrected)]},
                        {"required_probability", trial.request.required},
                        {"draws", draws}};
    auto& kinds = out["kinds"] = ordered_json::array();
    for (const TrialKind& kind : trial.kinds) kinds.push_back(json_of(trial, kind));
    auto& left = out["left_out"] = ordered_json::array();
    for (const LeftOut& one : trial.left_out) left.push_back({{"what", one.what}, {"why", one.why}});
    auto& places = out["places"] = ordered_json::array();
    for (const TrialPlace& place : trial.places) places.push_back(json_of(trial, place));
    return out.dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace tipwright::report
