#include "report/certificate/finding_words.hpp"

#include <algorithm>
#include <utility>

#include "calib/base/rounding.hpp"
#include "report/certificate/words.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report::certificate {

namespace {

using calib::Claim;
using calib::Reservation;
using calib::ReservationId;

bool complete(const Words& words, std::string_view key, const calib::Finding& finding) {
    const std::string& pattern = words.text(key);
    for (std::size_t open = pattern.find('{'); open != std::string::npos;
         open = pattern.find('{', open + 1)) {
        const std::size_t close = pattern.find('}', open);
        if (close == std::string::npos) break;
        if (!finding.number(std::string_view(pattern).substr(open + 1, close - open - 1))) return false;
    }
    return true;
}

// "Steps 2 and 3: 11 closures" could be 11 of both together: such a finding is said of each step by itself.
bool adds_up(const calib::Finding& finding) {
    return std::any_of(
        finding.numbers.begin(), finding.numbers.end(), [](const calib::FindingNumber& number) {
            return number.name == "count" || number.name == "missed" || number.name == "change_g";
        });
}

// A sentence of the whole begins with a capital, one of a step does not.
std::string reservation_text(const Words& words, std::size_t finished, std::size_t planned, ReservationId id,
                             const std::vector<int>& steps) {
    const std::string key = "reservation." + std::string(name_of(id));
    if (id == ReservationId::incomplete)
        return words.text(key,
                          {{"finished", std::to_string(finished)}, {"planned", std::to_string(planned)}});
    return steps_words(words, steps, words.text(key));
}

// "25, 50 and 100", of the steps of which nothing is stated; empty: there is none, or no intensity was set.
std::string intensities_withheld(const Words& words, const Record& record) {
    std::vector<std::string> out;
    for (const int step : record.statement.withheld_steps()) {
        const double intensity = planned_intensity_mm_h(record, step);
        if (intensity > 0) out.push_back(words.number(significant(intensity, 6)));
    }
    return words.list(out);
}

}  // namespace

std::string steps_words(const Words& words, const std::vector<int>& steps, const std::string& text) {
    if (steps.empty()) return text;
    std::vector<std::string> numbers;
    numbers.reserve(steps.size());
    for (const int step : steps) numbers.push_back(std::to_string(step));
    return steps.size() == 1
               ? words.text("reservation.of_step", {{"step", numbers.front()}, {"text", text}})
               : words.text("reservation.of_steps", {{"steps", words.list(numbers)}, {"text", text}});
}

std::string finding_words(const Words& words, const calib::Finding& finding) {
    const std::string key = "finding." + std::string(name_of(finding.id));
    std::string text{name_of(finding.id)};
    if (complete(words, key, finding)) {
        Words::FillingList numbers;
        for (const calib::FindingNumber& number : finding.numbers)
            numbers.emplace_back(number.name, words.number(calib::fixed(number.value, number.decimals)));
        text = words.filled(key, numbers);
    }
    if (finding.step == 0) return text;
    const std::string step = std::to_string(finding.step);
    if (finding.run == 0) return words.text("finding.in_step", {{"step", step}, {"text", text}});
    return words.text("finding.in_run",
                      {{"step", step}, {"run", std::to_string(finding.run)}, {"text", text}});
}

std::vector<std::string> findings_words(const Words& words, const std::vector<calib::Finding>& findings) {
    struct Said {
        std::string text;
        std::vector<int> steps;
    };
    std::vector<Said> all;
    for (calib::Finding finding : findings) {
        const int step = finding.run == 0 ? std::exchange(finding.step, 0) : 0;
        const std::string text = finding_words(words, finding);
        const auto same = std::find_if(all.begin(), all.end(), [&](const Said& other) {
            return !adds_up(finding) && other.text == text && other.steps.empty() == (step == 0);
        });
        if (same == all.end())
            all.push_back({text, step == 0 ? std::vector<int>() : std::vector{step}});
        else if (step != 0)
            same->steps.push_back(step);
        else
            all.push_back({text, {}});
    }
    std::vector<std::string> out;
    out.reserve(all.size());
    for (const Said& one : all) out.push_back(steps_words(words, one.steps, one.text));
    return out;
}

std::string finding_advice(const Words& words, const calib::Finding& finding) {
    const std::string& remedy = words.text("finding_remedy." + std::string(name_of(finding.id)));
    return finding_words(words, finding) + (remedy.empty() ? "" : "; " + remedy);
}

std::vector<std::string> reservation_sentences(const Words& words,
                                               const std::vector<Reservation>& reservations,
                                               std::size_t finished, std::size_t planned) {
    std::vector<std::string> out;
    for (const Reservation& one : reservations) {
        std::vector<int> steps;
        bool said = false;
        for (const Reservation& other : reservations) {
            if (other.id != one.id) continue;
            if (&other < &one) said = true;
            if (other.step != 0) steps.push_back(other.step);
        }
        if (!said) out.push_back(reservation_text(words, finished, planned, one.id, steps));
    }
    return out;
}

std::vector<std::string> reservation_sentences(const Words& words, const Record& record) {
    const calib::Statement& statement = record.statement;
    // A paper's record holds the results of stated steps alone; its statement names all.
    std::vector<std::string> out = reservation_sentences(words, statement.reservations,
                                                         statement.steps.size(), record.plan.steps.size());
    if (out.empty()) return out;
    if (statement.results == Claim::not_stated)
        out.push_back(words.text("reservation.no_step"));
    else if (const std::string at = intensities_withheld(words, record); !at.empty())
        out.push_back(words.text("reservation.not_stated_at", {{"list", at}}));
    if (record.evaluation.conformity.overall == calib::Verdict::not_stated)
        out.push_back(words.text("reservation.no_verdict"));
    if (record.evaluation.no_correction == calib::NoCorrection::steps_doubted)
        out.push_back(words.text("reservation.no_correction"));
    if (!statement.needs_acceptance()) return out;
    if (record.acceptance)
        out.push_back(words.text("reservation.accepted", {{"name", record.acceptance->by},
                                                          {"date", words.date(record.acceptance->on)},
                                                          {"reason", record.acceptance->reason}}));
    else
        out.push_back(words.text("reservation.not_accepted"));
    return out;
}

std::string traceability_sentence(const Words& words, const Record& record) {
    const calib::Traceability& known = record.statement.traceability;
    const std::pair<const char*, calib::Trace> quantities[] = {{"instruments.mass", known.mass},
                                                               {"instruments.volume", known.volume},
                                                               {"instruments.time", known.time},
                                                               {"instruments.temperature", known.temperature},
                                                               {"instruments.length", known.length}};
    std::vector<std::string> lacking;
    for (const auto& [key, trace] : quantities)
        if (trace == calib::Trace::missing || trace == calib::Trace::overdue)
            lacking.push_back(words.text(key));
    return lacking.empty() ? std::string()
                           : words.text("document.not_traceable", {{"quantities", words.list(lacking)}});
}

std::string traceability_words(const Words& words, const Record& record) {
    const calib::Traceability& known = record.statement.traceability;
    struct Quantity {
        const char* key;
        calib::Trace trace;
    };
    const Quantity quantities[] = {{"instruments.mass", known.mass},
                                   {"instruments.volume", known.volume},
                                   {"instruments.time", known.time},
                                   {"instruments.temperature", known.temperature},
                                   {"instruments.length", known.length}};
    std::vector<std::string> shown;
    std::vector<std::string> missing;
    std::vector<std::string> overdue;
    for (const Quantity& quantity : quantities) {
        const std::string& word = words.text(quantity.key);
        if (quantity.trace == calib::Trace::named) shown.push_back(word);
        const bool said_apart = &quantity == &std::end(quantities)[-1] && is_rim_nominal(record);
        if (quantity.trace == calib::Trace::missing && !said_apart) missing.push_back(word);
        if (quantity.trace == calib::Trace::overdue) overdue.push_back(word);
    }
    std::string out;
    if (!shown.empty()) out = words.text("instruments.traceable", {{"quantities", words.list(shown)}}) + " ";
    if (!missing.empty())
        out += words.text("instruments.not_traceable", {{"quantities", words.list(missing)}}) + " ";
    if (!overdue.empty())
        out += words.text("instruments.overdue", {{"quantities", words.list(overdue)}}) + " ";
    if (is_rim_nominal(record)) out += words.text("instruments.rim_not_measured") + " ";
    if (!out.empty()) out.pop_back();
    return out;
}

}  // namespace tipwright::report::certificate
