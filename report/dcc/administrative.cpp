// dcc:administrativeData: software, core data, the gauge, laboratory, persons, customer, statements.
#include <algorithm>

#include "report/certificate/document_words.hpp"
#include "report/certificate/facts_words.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/dcc/parts.hpp"
#include "report/record/record_checks.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report::dcc {

namespace {

using calib::Verdict;

std::string date_of(const std::string& iso) {
    return iso.substr(0, 10);
}

void write_software(Writer& writer, const Record& record) {
    XmlWriter& xml = writer.xml;
    xml.open("dcc:dccSoftware");
    xml.open("dcc:software");
    writer.foreign("dcc:name", "tipwright");
    // The publisher's rules ask for a letter before the number.
    xml.text("dcc:release", "v" + trimmed(record.program_version.empty() ? "0" : record.program_version));
    xml.text("dcc:type", "application");
    xml.close();
    xml.close();
}

void write_core_data(Writer& writer, const Record& record) {
    XmlWriter& xml = writer.xml;
    const DccOptions& options = writer.options;
    const Record& first = options.as_found ? *options.as_found : record;
    xml.open("dcc:coreData");
    xml.text("dcc:countryCodeISO3166_1", options.country);
    xml.text("dcc:usedLangCodeISO639_1", writer.language());
    xml.text("dcc:mandatoryLangCodeISO639_1", writer.language());
    writer.line("dcc:uniqueIdentifier", record.number);
    if (begins_with_date(record.received_on)) xml.text("dcc:receiptDate", date_of(record.received_on));
    xml.text("dcc:beginPerformanceDate", date_of(first.started_at));
    xml.text("dcc:endPerformanceDate", date_of(record.ended_at));
    // Of measurements that others made nobody said whether it was in a laboratory.
    const char* usual = record.origin == Origin::supplied_data ? "other" : "laboratory";
    xml.text("dcc:performanceLocation", options.place_kind.empty() ? usual : options.place_kind);
    if (begins_with_date(record.issued_on)) xml.text("dcc:issueDate", date_of(record.issued_on));
    if (options.replaces) {
        const ReplacedCertificate& old = *options.replaces;
        xml.open("dcc:reportAmendedSubstituted");
        xml.text("dcc:typeOfChange", old.amended ? "amended" : "substituted");
        writer.line("dcc:replacedUniqueIdentifier", old.number);
        xml.close();
        xml.open("dcc:previousReport");
        writer.name("dcc:referral", writer.words().text("dcc.earlier"));
        writer.line("dcc:referralID", old.number);
        xml.text("dcc:procedure", "SHA-256");
        writer.line("dcc:value", old.sha256);
        xml.close();
    }
    xml.close();
}

void write_identification(Writer& writer, std::string_view issuer, std::string_view ref_type,
                          const std::string& value, const std::string& label) {
    if (trimmed(value).empty()) return;
    writer.xml.open("dcc:identification", {{"refType", ref_type}});
    writer.xml.text("dcc:issuer", issuer);
    writer.line("dcc:value", value);
    writer.name("dcc:name", label);
    writer.xml.close();
}

void write_item(Writer& writer, const Record& record) {
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    const calib::Gauge& gauge = record.gauge;
    xml.open("dcc:items");
    xml.open("dcc:item", {{"id", "gauge"}});
    writer.foreign("dcc:name",
                   record.identity.kind_title.empty()
                       ? certificate::by_compartments(words, record, "title.subtitle")
                       : words.named("translated", record.identity.kind_title, record.identity.kind_title));
    if (!record.identity.condition.empty()) writer.foreign("dcc:description", record.identity.condition);
    writer.line("dcc:model", record.identity.model);
    xml.open("dcc:identifications");
    write_identification(writer, "manufacturer", "basic_serialNumber", record.identity.serial,
                         words.text("front.serial"));
    write_identification(writer, "customer", "", record.identity.station, words.text("front.station"));
    xml.close();
    xml.open("dcc:itemQuantities");
    xml.open("dcc:itemQuantity");
    writer.name("dcc:name", words.text("dcc.catch_diameter"));
    write_real(writer, millimetre, gauge.catch_diameter_mm.value,
               calib::expanded(gauge.catch_diameter_mm, record.plan.coverage));
    xml.close();
    xml.open("dcc:itemQuantity");
    writer.name("dcc:name", words.text("dcc.catch_area"));
    const calib::Uncertain area = gauge.catch_area_cm2();
    write_real(writer, square_centimetre, area.value, calib::expanded(area, record.plan.coverage));
    xml.close();
    xml.open("dcc:itemQuantity");
    writer.name("dcc:name", words.text("dcc.nominal"));
    xml.open("si:real");
    xml.text("si:value", significant(gauge.nominal_tip_mm, 6));
    xml.text("si:unit", millimetre);
    xml.close();
    xml.close();
    xml.close();
    xml.close();
    xml.close();
}

void write_contact(Writer& writer, std::string_view element, const Party& party, const std::string& country) {
    XmlWriter& xml = writer.xml;
    xml.open(element);
    writer.foreign("dcc:name", party.name);
    const bool mail =
        party.contact.find('@') != std::string::npos && party.contact.find(' ') == std::string::npos;
    if (mail) writer.line("dcc:eMail", party.contact);
    xml.open("dcc:location");
    std::string address = party.address;
    if (!mail && !party.contact.empty()) address += (address.empty() ? "" : "\n") + party.contact;
    if (!country.empty()) xml.text("dcc:countryCode", country);
    if (country.empty() || !address.empty())
        writer.foreign("dcc:further", address.empty() ? writer.words().text("front.not_stated") : address);
    xml.close();
    xml.close();
}

void write_person(Writer& writer, const std::string& who, const std::string& role, bool signs) {
    if (trimmed(who).empty()) return;
    XmlWriter& xml = writer.xml;
    xml.open("dcc:respPerson");
    xml.open("dcc:person");
    writer.foreign("dcc:name", who);
    xml.close();
    writer.line("dcc:role", role);
    xml.text("dcc:mainSigner", signs ? "true" : "false");
    xml.close();
}

std::string overall_word(const Record& record) {
    const calib::Conformity& conformity = record.evaluation.conformity;
    if (conformity.overall == Verdict::pass) return "pass";
    if (conformity.overall == Verdict::fail) return "fail";
    for (const calib::StepConformity& judged : conformity.steps)
        for (const calib::StepResult& step : record.evaluation.steps)
            if (judged.step == step.observation.step && judged.verdict == Verdict::undecided &&
                verdict_word(judged, step) == "conditionalFail")
                return "conditionalFail";
    return "conditionalPass";
}

std::string rule_text(const Writer& writer, const calib::Conformity& conformity, double coverage) {
    const certificate::Words& words = writer.words();
    switch (conformity.rule) {
        case calib::DecisionRule::simple_acceptance:
            return words.text("conformity.simple_acceptance");
        case calib::DecisionRule::guard_band:
            return words.text(
                "conformity.guard_band",
                {{"w", certificate::guard_band_words(words, conformity)},
                 {"risk", words.number(significant(100 * calib::risk_bound(conformity, coverage), 2))}});
        case calib::DecisionRule::conformance_probability:
            break;
    }
    return words.text("conformity.conformance_probability",
                      {{"required", words.number(significant(100 * conformity.required_probability, 6))},
                       {"risk", words.number(significant(100 - 100 * conformity.required_probability, 6))}});
}

void write_statement(Writer& writer, const std::string& text) {
    writer.xml.open("dcc:statement");
    writer.name("dcc:declaration", text);
    writer.xml.close();
}

void write_conformity_statement(Writer& writer, const Record& record, const std::string& state,
                                const char* id) {
    const calib::Conformity& conformity = record.evaluation.conformity;
    // Without an overall verdict too: single steps may have one, and refer to this by its id.
    if (conformity.overall == Verdict::no_limit) return;
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    xml.open("dcc:statement", {{"id", id}, {"refType", "basic_conformity"}});
    writer.name("dcc:name", words.text("conformity.heading") + ", " + state);
    xml.text("dcc:norm", "ISO/IEC 17025:2017, 7.8.6");
    const std::string agreed = certificate::agreed_words(words, record);
    const std::string reserved =
        record.statement.verdict == calib::Claim::reserved ? " " + reserved_words(writer, record) : "";
    writer.name(
        "dcc:declaration",
        words.text("conformity.limits",
                   {{"name", words.named("translated", conformity.limits.name, conformity.limits.name)},
                    {"source", conformity.limits.source}}) +
            " " + rule_text(writer, conformity, record.plan.coverage) + (agreed.empty() ? "" : " " + agreed) +
            " " + certificate::overall_verdict_sentence(words, record) + reserved);
    if (conformity.overall != Verdict::not_stated) xml.text("dcc:conformity", overall_word(record));
    xml.close();
}

void write_statements(Writer& writer, const Record& record) {
    const certificate::Words& words = writer.words();
    const DccOptions& options = writer.options;
    writer.xml.open("dcc:statements");
    if (const std::string no_certificate = certificate::no_certificate_sentence(words, record);
        !no_certificate.empty())
        write_statement(writer, no_certificate);
    const auto state = [&](const Record& r) {
        return words.text(r.state == State::as_found ? "title.as_found" : "title.as_left");
    };
    if (options.as_found)
        write_conformity_statement(writer, *options.as_found, state(*options.as_found),
                                   "conformity_as_found");
    write_conformity_statement(writer, record, state(record), "conformity");
    for (const Record* one : {options.as_found ? &*options.as_found : nullptr, &record}) {
        if (one == nullptr) continue;
        const auto of_state = [&](const std::string& text) {
            return options.as_found ? words.text("method.of_state", {{"state", state(*one)}, {"text", text}})
                                    : text;
        };
        for (const std::string& sentence : certificate::reservation_sentences(words, *one))
            write_statement(writer, of_state(sentence));
        if (const std::string lacking = certificate::traceability_sentence(words, *one); !lacking.empty())
            write_statement(writer, of_state(lacking));
        if (!one->instruments.empty()) {
            const std::string traced = certificate::traceability_words(words, *one);
            if (!traced.empty()) write_statement(writer, of_state(traced));
        }
        if (const std::string raised = certificate::raised_words(words, *one); !raised.empty())
            write_statement(writer, of_state(raised));
        for (const calib::Finding& finding : findings_of(*one))
            write_statement(writer, of_state(certificate::finding_words(words, finding) + "."));
    }
    for (const std::string& work : options.work)
        write_statement(writer, words.text("method.work") + " " + work);
    for (const std::string& fact :
         {certificate::capability_words(words, record), certificate::water_words(words, record)})
        if (!fact.empty()) write_statement(writer, fact);
    if (!trimmed(record.place).empty())
        write_statement(
            writer, certificate::by_document(words, record, "front.place") + ": " + trimmed(record.place));
    if (record.invented) write_statement(writer, words.text("mark.invented"));
    if (record.origin == Origin::virtual_bench) write_statement(writer, words.text("mark.virtual_bench"));
    if (record.origin == Origin::supplied_data) {
        write_statement(writer, words.text("mark.supplied_data"));
        write_statement(writer, words.text("front.supplied_by") + ": " +
                                    (record.laboratory.name.empty() ? words.text("front.not_stated")
                                                                    : record.laboratory.name));
        write_statement(writer, words.text("closing.supplied_data"));
    }
    if (record.authorised_by.empty()) write_statement(writer, words.text("mark.not_authorised"));
    write_statement(writer, words.text("closing.item_only"));
    write_statement(writer, words.text("closing.supplied"));
    write_statement(writer, words.text("closing.reproduction"));
    write_statement(writer, words.text("closing.interval"));
    writer.xml.close();
}

}  // namespace

void write_administrative_data(Writer& writer, const Record& record) {
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    xml.open("dcc:administrativeData");
    write_software(writer, record);
    write_core_data(writer, record);
    write_item(writer, record);
    xml.open("dcc:calibrationLaboratory");
    Party issuer = certificate::issuer_of(record, writer.options.laboratory);
    if (issuer.name.empty()) issuer.name = words.text("front.not_stated");
    write_contact(writer, "dcc:contact", issuer, writer.options.country);
    xml.close();
    xml.open("dcc:respPersons");
    const auto role = [&](const char* key, const std::string& name) {
        const std::string function = record.laboratory_facts.function_of(name);
        return words.text(key) + (function.empty() ? "" : ", " + function);
    };
    write_person(writer, record.authorised_by, role("dcc.authorised", record.authorised_by), true);
    write_person(writer, record.operator_name, role("dcc.operator", record.operator_name), false);
    xml.close();
    write_contact(writer, "dcc:customer", record.customer, "");
    write_statements(writer, record);
    xml.close();
}

}  // namespace tipwright::report::dcc
