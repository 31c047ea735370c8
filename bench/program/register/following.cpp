// Certificates that follow an issued one: amendments and replacements.
#include <map>

#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/certificates.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/records_to_draft.hpp"
#include "bench/program/register/session_options.hpp"
#include "calib/base/dates.hpp"

namespace tipwright::program {

using report::Id;
using report::Record;

namespace {

struct EarlierOptions {
    Session session;
    std::string number;
    std::string reason;
    std::vector<std::filesystem::path> records;  // empty: those of the earlier certificate
    RecordSources sources;
    std::vector<std::string> corrections;  // FIELD=TEXT
    std::string bench = default_bench;
    bool replace = false;
};

// What a certificate says that was not measured; all else follows from the journal.
Outcome correct(Record& record, const std::string& filter) {
    const std::size_t equals = filter.find('=');
    const std::string field = filter.substr(0, equals);
    const std::map<std::string, std::string*> fields{
        {"customer.name", &record.customer.name},       {"customer.address", &record.customer.address},
        {"customer.contact", &record.customer.contact}, {"station", &record.identity.station},
        {"condition", &record.identity.condition},      {"place", &record.place},
        {"received_on", &record.received_on},           {"remark", nullptr}};
    const auto found = fields.find(field);
    if (equals == std::string::npos || found == fields.end())
        return Fault{FaultCode::usage, in_quotes(filter) + " corrects nothing", "--correct",
                     "write FIELD=TEXT with customer.name, customer.address, customer.contact, station, "
                     "condition, place, received_on or remark"};
    const std::string text = filter.substr(equals + 1);
    if (found->second == &record.received_on && !text.empty()) {
        const std::string measured = record.started_at.substr(0, 10);
        if (!is_iso_date(text))
            return Fault{FaultCode::bad_value, in_quotes(text) + " is no date", "--correct received_on",
                         "write it as 2031-05-04"};
        if (!measured.empty() && text > measured)
            return Fault{FaultCode::inconsistent,
                         "received on " + text + ", yet measured on " + measured + " already",
                         "--correct received_on", "give the day the gauge came in"};
    }
    if (found->second == nullptr)
        record.deviations.push_back(text);
    else
        *found->second = text;
    return Done{};
}

// The draft that follows an issued certificate.
Result<Id> draft_following(const CommonOptions& common, report::Register& reg, const report::Actor& actor,
                           const EarlierOptions& options) {
    const auto earlier = reg.certificate(options.number);
    if (!earlier) return earlier.fault();
    std::vector<Record> records;
    std::vector<std::string> names;
    if (const Outcome read = read_given(common, options.records, options.sources, records, names); !read)
        return read.fault();
    if (options.records.empty())
        for (const Id id : {earlier->as_found, earlier->as_left}) {
            if (id == 0) continue;
            auto record = reg.record(id);
            if (!record) return record.fault();
            names.push_back("record " + std::to_string(id));
            records.push_back(std::move(*record));
        }
    for (Record& record : records)
        for (const std::string& filter : options.corrections)
            if (const Outcome done = correct(record, filter); !done) return done.fault();
    const auto gauges = by_gauge(records, names);
    if (!gauges) return gauges.fault();
    if (gauges->size() != 1)
        return Fault{FaultCode::inconsistent, "records of more than one gauge", options.number,
                     "give those of the gauge of this certificate"};
    report::Draft draft;
    draft.kind = options.replace ? report::CertificateKind::replacement : report::CertificateKind::amendment;
    draft.refers_to = options.number;
    draft.order = earlier->order;
    draft.reason = options.reason;
    return draft_one(reg, actor, gauges->front(), options.bench, draft);
}

ExitCode follow_certificate(const CommonOptions& common, const EarlierOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto actor = logged_in(*reg, options.session);
    if (!actor) return refuse(common, actor.fault());
    const auto id = draft_following(common, *reg, *actor, options);
    if (!id) return refuse(common, id.fault());
    return say(common,
               "Draft " + std::to_string(*id) + (options.replace ? " replaces " : " amends ") +
                   options.number + ". A second person checks it: tipwright certificate check " +
                   std::to_string(*id),
               {{"draft", *id}, {"refers_to", options.number}});
}

}  // namespace

Result<Id> draft_replacement(const CommonOptions& common, report::Register& reg, const report::Actor& actor,
                             const std::string& number, const std::string& reason, const std::string& bench) {
    EarlierOptions options;
    options.number = number;
    options.reason = reason;
    options.bench = bench;
    options.replace = true;
    return draft_following(common, reg, actor, options);
}

void add_following(CommandLine& line, Subcommand group) {
    for (const bool replace : {false, true}) {
        auto follow = add_verb(line, group, replace ? "replace" : "amend",
                               replace ? "Draft a certificate that replaces an issued one, which is then void"
                                       : "Draft a certificate that amends an issued one",
                               follow_certificate);
        follow->replace = replace;
        add_session(follow.command, follow->session);
        follow.command.add_option("certificate", follow->number, "Number of the earlier certificate")
            .required();
        follow.command
            .add_option("--reason", follow->reason, "Why; stated on the new certificate's first page")
            .required()
            .type_name("TEXT");
        follow.command
            .add_option("--record", follow->records,
                        "Records it is based on (default: those of the earlier certificate)")
            .type_name("RECORD");
        add_sources(follow.command, follow->sources);
        follow.command
            .add_option("--correct", follow->corrections,
                        "Correct what was not measured: customer.name, customer.address, customer.contact, "
                        "station, condition, place, received_on; remark=TEXT adds a remark")
            .type_name("FIELD=TEXT");
        add_bench_code(follow.command, follow->bench);
    }
}

}  // namespace tipwright::program
