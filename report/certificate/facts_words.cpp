#include "report/certificate/facts_words.hpp"

#include "calib/base/rounding.hpp"
#include "calib/rate/capability_floor.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr WordKey of_facts[] = {
    {"facts.procedure", "procedure issue"},
    {"facts.water", "water"},
    {"facts.water_allowance", "water allowance"},
    {"facts.permitted", ""},
    {"facts.agreed", "agreed"},
    {"facts.capability", "list"},
    {"facts.capability_point", "U intensity"},
    {"facts.raised_one", "step"},
    {"facts.raised", "steps"},
    {"facts.issued_by", "laboratory"},
    {"facts.issued_by_accredited", "laboratory accreditation"},
    {"facts.mark", ""},
};

}  // namespace

std::span<const WordKey> facts_keys() {
    return of_facts;
}

std::string procedure_words(const Words& words, const Record& record) {
    const calib::LaboratoryFacts& facts = record.laboratory_facts;
    if (facts.procedure.empty()) return {};
    return words.text("facts.procedure",
                      {{"procedure", facts.procedure}, {"issue", without_full_stop(facts.procedure_issue)}});
}

std::string water_words(const Words& words, const Record& record) {
    const std::string& water = record.laboratory_facts.water;
    if (water.empty()) return {};
    const double allowance = record.bench.water_allowance_kg_m3;
    if (!(allowance > 0)) return words.text("facts.water", {{"water", without_full_stop(water)}});
    return words.text("facts.water_allowance", {{"water", without_full_stop(water)},
                                                {"allowance", words.number(significant(allowance, 4))}});
}

std::string capability_words(const Words& words, const Record& record) {
    if (record.bench.capability.empty()) return {};
    std::vector<std::string> points;
    for (const calib::CapabilityPoint& point : record.bench.capability)
        points.push_back(
            words.text("facts.capability_point",
                       {{"U", words.number(calib::round_with_uncertainty(0, point.U_percent).uncertainty)},
                        {"intensity", words.number(significant(point.intensity_mm_h, 6))}}));
    return words.text("facts.capability", {{"list", words.list(points)}});
}

std::string raised_words(const Words& words, const Record& record) {
    std::vector<std::string> steps;
    for (const calib::StepResult& step : record.evaluation.steps)
        if (calib::is_raised(step) && is_stated(record, step.observation.step))
            steps.push_back(std::to_string(step.observation.step));
    if (steps.empty()) return {};
    if (steps.size() == 1) return words.text("facts.raised_one", {{"step", steps.front()}});
    return words.text("facts.raised", {{"steps", words.list(steps)}});
}

std::string agreed_words(const Words& words, const Record& record) {
    const auto& agreed = record.laboratory_facts.agreed_rule;
    const calib::Conformity& conformity = record.evaluation.conformity;
    if (!agreed || conformity.limits.rows.empty() || agreed->rule != conformity.rule) return {};
    return words.text("facts.agreed", {{"agreed", without_full_stop(agreed->agreed)}});
}

std::string issuer_words(const Words& words, const InstrumentUsed& used) {
    if (used.issued_by.empty()) return {};
    if (used.accreditation.empty()) return words.text("facts.issued_by", {{"laboratory", used.issued_by}});
    return words.text("facts.issued_by_accredited",
                      {{"laboratory", used.issued_by}, {"accreditation", used.accreditation}});
}

}  // namespace tipwright::report::certificate
