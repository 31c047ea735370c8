#include "bench/program/letters.hpp"

#include <cstdio>

#include "calib/base/text.hpp"
#include "report/certificate/canvas.hpp"
#include "report/certificate/font_file.hpp"

namespace tipwright::program {

namespace {

namespace certificate = report::certificate;

struct Name {
    const std::string* text;
    const std::string* place;  // file or option
};

void add(std::vector<Name>& names, const bench::PartyDescription& party, const std::string& file) {
    for (const std::string* text : {&party.name, &party.address, &party.contact})
        names.push_back({text, &file});
}

void add(std::vector<Name>& names, const std::vector<bench::InstrumentDescription>& instruments,
         const std::string& file) {
    for (const auto& one : instruments)
        for (const std::string* text : {&one.description, &one.serial, &one.certificate, &one.traceability,
                                        &one.issued_by, &one.accreditation})
            names.push_back({text, &file});
}

std::string named(char32_t point) {
    char text[16];
    std::snprintf(text, sizeof text, "U+%04X", static_cast<unsigned>(point));
    return text;
}

Outcome check(const std::vector<Name>& names) {
    const certificate::Fonts fonts;
    const auto regular = certificate::read_font_characters(fonts.regular);
    const auto bold = certificate::read_font_characters(fonts.bold);
    if (!regular || !bold) return Done{};
    for (const Name& name : names)
        for (std::size_t at = 0; at < name.text->size();) {
            const char32_t point = next_code_point(*name.text, at);
            if (point < 0x20 || point == 0x7F) continue;
            const bool has = point <= 0xFFFF && regular->has(point) && bold->has(point);
            if (has && !certificate::needs_shaping(point)) continue;
            return Fault{FaultCode::bad_value,
                         in_quotes(*name.text) +
                             (has ? " has a letter of a script that the certificate cannot set: "
                                  : " has a letter that the certificate's font lacks: ") +
                             named(point),
                         *name.place, "write it in Latin, Greek or Cyrillic letters"};
        }
    return Done{};
}

}  // namespace

Outcome check_letters(const bench::GaugeDescription& gauge, const bench::BenchDescription& bench,
                      const bench::PlanDescription& plan) {
    std::vector<Name> names;
    const std::string& file = gauge.text.name.empty() ? gauge.kind_text.name : gauge.text.name;
    for (const std::string* text : {&gauge.kind_title, &gauge.model, &gauge.serial, &gauge.condition,
                                    &gauge.station, &gauge.catch_diameter_method})
        names.push_back({text, &file});
    add(names, gauge.customer, file);
    add(names, bench.laboratory, bench.text.name);
    for (const std::string* text : {&bench.place, &bench.operator_name, &bench.authorised_by})
        names.push_back({text, &bench.text.name});
    const calib::LaboratoryFacts& facts = bench.facts;
    for (const std::string* text : {&facts.procedure, &facts.procedure_issue, &facts.water})
        names.push_back({text, &bench.text.name});
    if (facts.agreed_rule) names.push_back({&facts.agreed_rule->agreed, &bench.text.name});
    for (const calib::Signatory& one : facts.signatories) {
        names.push_back({&one.name, &bench.text.name});
        names.push_back({&one.function, &bench.text.name});
    }
    add(names, bench.instruments, bench.text.name);
    add(names, bench.hand_instruments, bench.text.name);
    for (const std::string* text : {&plan.plan.name, &plan.plan.limits.name, &plan.plan.limits.source})
        names.push_back({text, &plan.text.name});
    return check(names);
}

Outcome check_letters(const std::string& text, const std::string& where) {
    return check({{&text, &where}});
}

}  // namespace tipwright::program
