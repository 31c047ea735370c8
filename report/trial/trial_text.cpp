// The trial as lines for a terminal.
#include <algorithm>
#include <cmath>

#include "calib/base/padding.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/tables/correction_csv.hpp"
#include "report/trial/trial_tables.hpp"

namespace tipwright::report {

namespace {

using calib::fixed;
using namespace calib::trial;

std::size_t name_width(const Trial& trial) {
    std::size_t width = 6;
    for (const TrialKind& kind : trial.kinds)
        width = std::max(width, code_point_count(visible(kind.kind)) + 2);
    return std::min<std::size_t>(width, 30);
}

std::string percent(double share) {
    if (share > 0.999) return "over 99.9";
    if (share < 0.001) return "under 0.1";
    return fixed(100 * share, 1);
}

const char* amount_words(Amount amount) {
    switch (amount) {
        case Amount::year:
            return "the yearly amount";
        case Amount::max_1_min:
            return "the largest 1-minute amount";
        case Amount::max_5_min:
            return "the largest 5-minute amount";
        case Amount::max_60_min:
            return "the largest 60-minute amount";
    }
    return "";
}

const char* way_words(Corrected way) {
    switch (way) {
        case Corrected::none:
            return "as indicated";
        case Corrected::by_kind:
            return "corrected by the kind's mean curve";
        case Corrected::by_certificate:
            return "corrected by each gauge's certificate";
    }
    return "";
}

std::string interval_text(const SpreadInterval& interval) {
    return fixed(interval.sd, 2) + " (" + fixed(interval.low, 2) + " to " + fixed(interval.high, 2) + ")";
}

std::string rate_text(const EventRate& rate) {
    return fixed(rate.per_unit, 3) + " (" + fixed(rate.low, 3) + " to " + fixed(rate.high, 3) +
           ") a gauge-year";
}

std::string kept_text(const TrialKind& kind) {
    if (!kind.kept.at_all) return "not at " + fixed(kind.model.knots_mm_h.front(), 1) + " mm/h";
    return std::string("up to ") + fixed(kind.kept.to_mm_h, 0) + " mm/h" +
           (kind.kept.to_the_end ? " (all tested)" : "");
}

void add_kinds(const Trial& trial, std::string& out) {
    const std::size_t width = name_width(trial);
    for (const TrialKind& kind : trial.kinds) {
        out += "\n" + visible(kind.kind) + ": " + std::to_string(kind.model.specimens) + " specimens, " +
               std::to_string(kind.model.runs) + " runs, " +
               (kind.state == State::as_left ? "as left" : "as found") + "\n";
        out += "  " + flush_right("mm/h", 9) + flush_right("mean %", 10) + flush_right("U", 8) +
               flush_right("between sd", 12) + flush_right("within sd", 11) + "   95 % of gauges\n";
        for (const CurveValue& at : kind.curve)
            out += "  " + flush_right(fixed(at.intensity_mm_h, 1), 9) +
                   flush_right(fixed(at.mean.value, 2), 10) + flush_right(fixed(at.U_mean, 2), 8) +
                   flush_right(fixed(at.between_sd, 2), 12) + flush_right(fixed(at.within_sd, 2), 11) +
                   "   " + fixed(at.low, 1) + " to " + fixed(at.high, 1) + " %\n";
        out += "  between gauges, sd %: level " + interval_text(kind.spread.level);
        if (kind.model.model.random_columns == 2) out += ", tilt " + interval_text(kind.spread.tilt);
        out += "\n  within one gauge, sd %: ";
        if (kind.model.model.runs > 0) out += "runs " + interval_text(kind.spread.run) + ", ";
        out += "points " + interval_text(kind.spread.residual) + "\n";
        out += "  keeps +-" + significant(trial.request.limit_percent, 4) + " % with " +
               percent(trial.request.probability) + " % probability: " + kept_text(kind) + "\n";
        if (kind.adjustment) {
            const AdjustmentEffect& effect = *kind.adjustment;
            out += "  adjustment of " + std::to_string(effect.gauges) + ": mean " +
                   fixed(effect.found_mean, 2) + " to " + fixed(effect.left_mean, 2) + " %, sd " +
                   fixed(effect.found_sd, 2) + " to " + fixed(effect.left_sd, 2) + " %\n";
        }
        if (kind.history) {
            const KindHistory& history = *kind.history;
            out += "  in service: " + std::to_string(history.gauges) + " gauges, " +
                   fixed(history.gauge_years, 1) + " gauge-years; service " + rate_text(history.services) +
                   "\n";
            for (const auto& [what, rate] : {std::pair{"adjusted", history.adjustments},
                                             {"closures missed, seen as found", history.missed_closures}})
                out += "    " + flush_left(what, width + 8) + std::to_string(rate.events) + ": " +
                       rate_text(rate) + "\n";
            for (const KindHistory::Found& found : history.findings)
                out += "    " + flush_left(visible(found.what), width + 8) +
                       std::to_string(found.rate.events) + ": " + rate_text(found.rate) + "\n";
            if (history.drift)
                out += "    drift at " + fixed(history.drift_at_mm_h, 0) +
                       " mm/h: " + fixed(history.drift->percent_per_year.value, 3) + " +- " +
                       fixed(history.drift->U_percent_per_year, 3) + " % a year\n";
        }
    }
}

void add_place(const Trial& trial, const TrialPlace& place, std::string& out) {
    const std::size_t width = name_width(trial);
    out += "\n" + visible(place.site.title) + ": " + fixed(place.site.climate.amount_mm, 0) +
           " mm a year; largest";
    for (const RainMaximum& most : place.site.climate.maxima)
        out += " " + fixed(most.amount_mm, 1) + " mm in " + std::to_string(most.minutes) + " min" +
               (&most == &place.site.climate.maxima.back() ? "" : ",");
    out += "\n" + std::string(place.site.adjacent_assumed
                                  ? "  (the worst minutes of a year taken to fall together)\n"
                                  : "");
    out += "  error %, mean +- U, then rms of single gauges as indicated / by kind / by certificate\n";
    out += "  " + flush_left("", width) + flush_left("year", 25) + flush_left("60 min", 25) +
           flush_left("5 min", 25) + "1 min\n";
    for (std::size_t k = 0; k < trial.kinds.size(); ++k) {
        out += "  " + flush_left(visible(trial.kinds[k].kind), width);
        for (const Amount amount : {Amount::year, Amount::max_60_min, Amount::max_5_min, Amount::max_1_min}) {
            const AmountError& none = place.result.of(k, amount, Corrected::none);
            std::string cell =
                fixed(none.mean.value, 1) + "+-" + fixed(none.U_mean, 1) + " " + fixed(none.rms, 1);
            for (const Corrected way : {Corrected::by_kind, Corrected::by_certificate})
                cell += "/" + fixed(place.result.of(k, amount, way).rms, 1);
            out += amount == Amount::max_1_min ? cell : flush_left(cell, 25);
        }
        const AmountError& year = place.result.of(k, trial.request.by, Corrected::none);
        out += "\n";
        if (year.beyond_trial > 0.01)
            out += "  " + flush_left("", width) + percent(year.beyond_trial) + " % of " +
                   amount_words(trial.request.by) + " falls above the " +
                   fixed(trial.kinds[k].model.knots_mm_h.back(), 0) + " mm/h tested: drawn on in a line\n";
        if (const auto cost = cost_per_percent(trial, place, k))
            out += "  " + flush_left("", width) + fixed(*cost, 2) + " " + visible(trial.currency) +
                   " a year for each per cent less than the cheapest kind's\n";
    }
    if (trial.kinds.size() > 1)
        for (const Duel& duel : place.duels)
            if (duel.a == place.choice.kind)
                out += "  " + visible(trial.kinds[duel.a].kind) + " before " +
                       visible(trial.kinds[duel.b].kind) + ": kind " + percent(duel.kind) +
                       " %, one gauge against one " + percent(duel.gauge) + " %\n";
    out += "  " + choice_sentence(trial, place) + "\n";
}

}  // namespace

std::string choice_sentence(const Trial& trial, const TrialPlace& place) {
    const Choice& choice = place.choice;
    const std::string kind = visible(trial.kinds[choice.kind].kind);
    const std::string what =
        std::string(amount_words(trial.request.by)) + ", " + way_words(trial.request.corrected);
    if (trial.kinds.size() < 2) return "One kind: there is nothing to choose.";
    if (choice.supported)
        return "The data support " + kind + ": with " + percent(choice.probability) +
               " % probability its error of " + what + ", is the smallest.";
    std::string out = "The data do not decide: " + kind + " has the smallest error of " + what + ", with " +
                      percent(choice.probability) + " % probability only.";
    if (choice.specimens)
        out +=
            " " + std::to_string(*choice.specimens) + " specimens of each kind would be expected to decide.";
    if (choice.runs)
        out += " " + std::to_string(*choice.runs) +
               " runs of each specimen there is would be expected to decide.";
    if (!choice.specimens && !choice.runs)
        out += " Neither " + std::to_string(most_specimens) + " specimens of each nor " +
               std::to_string(most_runs) +
               " runs would be expected to decide: the kinds hardly differ there.";
    else if (!choice.runs)
        out += " More runs of the same specimens would not.";
    return out;
}

std::string trial_text(const Trial& trial) {
    std::string out = "Trial of " + std::to_string(trial.kinds.size()) + " kinds from " +
                      std::to_string(trial.records) + " records\n";
    for (const LeftOut& left : trial.left_out)
        out += "left out: " + visible(left.what) + ": " + visible(left.why) + "\n";
    add_kinds(trial, out);
    for (const TrialPlace& place : trial.places) add_place(trial, place, out);
    return out;
}

}  // namespace tipwright::report
