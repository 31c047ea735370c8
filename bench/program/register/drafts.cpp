// From records to checked drafts.
#include <algorithm>
#include <map>

#include "bench/program/overwrite.hpp"
#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/certificates.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/drafts.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/record_source.hpp"
#include "bench/program/run/work_folder.hpp"
#include "report/files/files.hpp"
#include "report/record/record_json.hpp"

namespace tipwright::program {

namespace {

struct DraftOptions {
    Session session;
    std::vector<std::filesystem::path> records;  // or serials of gauges with runs in the work folder
    std::filesystem::path work = "work";
    RecordSources sources;
    std::string bench = default_bench;
    std::string reason;  // why reservations are accepted
};

// For commands about drafts that are there.
struct DraftsOptions {
    Session session;
    std::vector<std::int64_t> drafts;
    std::string why;
    Layout layout;
    std::filesystem::path out;
};

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

using report::Id;
using report::Record;

// Only a record that has no number yet becomes a certificate.
Outcome check_unnumbered(const Record& record, const std::string& where) {
    if (record.number != "DRAFT")
        return Fault{FaultCode::not_permitted, "the record has the number " + record.number + " already",
                     where, "amend or replace that certificate, or give the record as it was measured"};
    return Done{};
}

struct GaugeRecords {
    const Record* found = nullptr;
    const Record* left = nullptr;
    std::string found_name;
    std::string left_name;
};

// By serial and model; one record of each state.
Result<std::vector<GaugeRecords>> by_gauge(const std::vector<Record>& records,
                                           const std::vector<std::string>& names) {
    std::map<std::pair<std::string, std::string>, std::size_t> places;
    std::vector<GaugeRecords> out;
    for (std::size_t i = 0; i < records.size(); ++i) {
        const auto [place, added] =
            places.emplace(std::pair{records[i].identity.serial, records[i].identity.model}, out.size());
        if (added) out.emplace_back();
        GaugeRecords& gauge = out[place->second];
        const bool found = records[i].state == report::State::as_found;
        const Record*& slot = found ? gauge.found : gauge.left;
        std::string& name = found ? gauge.found_name : gauge.left_name;
        if (slot != nullptr)
            return Fault{FaultCode::duplicate,
                         "a second " + std::string(found ? "as-found" : "as-left") + " record of gauge " +
                             in_quotes(records[i].identity.serial) + "; the first is " + name,
                         names[i], "give one of each state"};
        slot = &records[i];
        name = names[i];
    }
    return out;
}

Result<Id> enter(report::Register& reg, const report::Actor& actor, const Record* record,
                 const std::string& bench, const std::string& name) {
    if (record == nullptr) return Id{0};
    auto id = reg.enter_record(actor, *record, bench);
    if (!id) id.fault().where = name + (id.fault().where.empty() ? "" : ": " + id.fault().where);
    return id;
}

Result<Id> draft_one(report::Register& reg, const report::Actor& actor, const GaugeRecords& gauge,
                     const std::string& bench, report::Draft draft) {
    const auto found = enter(reg, actor, gauge.found, bench, gauge.found_name);
    if (!found) return found.fault();
    const auto left = enter(reg, actor, gauge.left, bench, gauge.left_name);
    if (!left) return left.fault();
    draft.as_found = *found;
    draft.as_left = *left;
    const Record& record = gauge.left != nullptr ? *gauge.left : *gauge.found;
    const auto gauges = reg.gauges_with_serial(record.identity.serial);
    if (!gauges) return gauges.fault();
    for (const auto& known : *gauges) {
        if (known.model != record.identity.model || draft.order != 0) continue;
        const auto order = reg.open_order_of(known.id);
        if (!order) return order.fault();
        draft.order = *order;
    }
    auto id = reg.draft(actor, draft);
    if (!id)
        id.fault().where =
            (gauge.left != nullptr ? gauge.left_name : gauge.found_name) + ": " + id.fault().where;
    return id;
}

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
    if (found->second == nullptr)
        record.deviations.push_back(text);
    else
        *found->second = text;
    return Done{};
}

template <class Do>
ExitCode each_draft(const CommonOptions& common, const DraftsOptions& options, const std::string& did,
                    Do work) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto actor = logged_in(*reg, options.session);
    if (!actor) return refuse(common, actor.fault());
    std::string said;
    for (const Id id : options.drafts) {
        if (const Outcome done = work(*reg, *actor, id); !done) {
            if (!said.empty() && !common.json) say(common, said);
            return refuse(common, done.fault());
        }
        said += (said.empty() ? "" : "\n") + std::string("Draft ") + std::to_string(id) + " " + did;
    }
    return say(common, said, {{"drafts", static_cast<std::int64_t>(options.drafts.size())}});
}

// The records of files, each as its journal or table gives it, and what to call them.
Outcome read_given(const CommonOptions& common, const std::vector<std::filesystem::path>& files,
                   const RecordSources& sources, std::vector<Record>& records,
                   std::vector<std::string>& names) {
    for (const auto& file : files) {
        auto record = read_record(file);
        if (!record) return record.fault();
        if (Outcome good = check_unnumbered(*record, file.string()); !good) return good;
        auto measured = record_from_source(common, *record, file, sources);
        if (!measured) return measured.fault();
        records.push_back(std::move(*measured));
        names.push_back(file.string());
    }
    return Done{};
}

// A serial stands for the records of its newest round in the work folder; what is a file stays one.
std::vector<std::filesystem::path> with_runs_of_serials(const std::vector<std::filesystem::path>& given,
                                                        const std::filesystem::path& work) {
    std::vector<std::filesystem::path> out;
    for (const auto& one : given) {
        std::error_code ignored;
        const Round round =
            std::filesystem::exists(one, ignored) ? Round{} : newest_round(kept_runs(work, one.string()));
        if (!round.found.empty()) out.push_back(round.found / "record.json");
        if (!round.left.empty()) out.push_back(round.left / "record.json");
        if (round.found.empty() && round.left.empty()) out.push_back(one);
    }
    return out;
}

void accept_reservations(std::vector<Record>& records, const report::Actor& actor,
                         const std::string& reason) {
    for (Record& record : records)
        if (!reason.empty() && record.statement.needs_acceptance())
            record.acceptance = report::Acceptance{reason, actor.person, actor.now.substr(0, 10)};
}

ExitCode draft_certificates(const CommonOptions& common, const DraftOptions& options) {
    std::vector<Record> records;
    std::vector<std::string> names;
    const std::vector<std::filesystem::path> files = with_runs_of_serials(options.records, options.work);
    if (const Outcome read = read_given(common, files, options.sources, records, names); !read)
        return refuse(common, read.fault());
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto actor = logged_in(*reg, options.session);
    if (!actor) return refuse(common, actor.fault());
    accept_reservations(records, *actor, options.reason);
    const auto gauges = by_gauge(records, names);
    if (!gauges) return refuse(common, gauges.fault());
    report::Table table{{"draft", "serial", "model", "as_found", "as_left"}, {}, false};
    for (const GaugeRecords& gauge : *gauges) {
        const auto id = draft_one(*reg, *actor, gauge, options.bench, {});
        if (!id) {
            if (!table.rows.empty() && !common.json) show(common, table);
            return refuse(common, id.fault());
        }
        const Record& record = gauge.left != nullptr ? *gauge.left : *gauge.found;
        table.rows.push_back(
            {*id, record.identity.serial, record.identity.model, gauge.found_name, gauge.left_name});
    }
    return show(common, table);
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

ExitCode preview_certificate(const CommonOptions& common, const DraftsOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto pdf = drawing_of_draft(common, *reg, options.drafts.front(), options.layout);
    if (!pdf) return refuse(common, pdf.fault());
    if (auto written = write_file(options.out, *pdf); !written) return refuse(common, written.fault());
    return say(common, "Wrote the draft to " + options.out.string(), {{"file", options.out.string()}});
}

ExitCode check_certificates(const CommonOptions& common, const DraftsOptions& options) {
    return each_draft(
        common, options, "is checked by " + options.session.person,
        [](report::Register& reg, const report::Actor& actor, Id id) { return reg.mark_checked(actor, id); });
}

ExitCode send_back_certificates(const CommonOptions& common, const DraftsOptions& options) {
    return each_draft(common, options, "goes back to who drafted it",
                      [&](report::Register& reg, const report::Actor& actor, Id id) {
                          return reg.send_back(actor, id, options.why);
                      });
}

ExitCode discard_certificates(const CommonOptions& common, const DraftsOptions& options) {
    return each_draft(common, options, "is discarded",
                      [&](report::Register& reg, const report::Actor& actor, Id id) {
                          return reg.discard(actor, id, options.why);
                      });
}

// What records were made from.
void add_sources(CLI::App& command, RecordSources& sources) {
    command
        .add_option("--source", sources.files,
                    "Journals or tables the records were made from (default: those beside each record)")
        ->type_name("FILE");
    command.add_option("--plan", sources.plan, "Plan that supplied measurements were evaluated with")
        ->type_name("FILE");
}

}  // namespace

Result<std::string> enter_run(const CommonOptions& common, const Session& session, const std::string& serial,
                              const std::filesystem::path& work, const std::filesystem::path& run,
                              bool as_left, const std::string& bench_code) {
    std::vector<std::filesystem::path> files{run / "record.json"};
    if (as_left) {
        files = with_runs_of_serials({serial}, work);
        if (std::find(files.begin(), files.end(), run / "record.json") == files.end())
            files = {run / "record.json"};
    }
    std::vector<Record> records;
    std::vector<std::string> names;
    if (const Outcome read = read_given(common, files, {}, records, names); !read) return read.fault();
    auto reg = open_register(session);
    if (!reg) return reg.fault();
    const auto actor = logged_in(*reg, session);
    if (!actor) return actor.fault();
    if (!as_left) {
        const auto id = enter(*reg, *actor, &records.front(), bench_code, names.front());
        if (!id) return id.fault();
        return std::string("entered as found");
    }
    const auto gauges = by_gauge(records, names);
    if (!gauges) return gauges.fault();
    const auto id = draft_one(*reg, *actor, gauges->front(), bench_code, {});
    if (!id) return id.fault();
    return "entered and drafted: draft " + std::to_string(*id);
}

Result<Id> draft_of_newest_runs(const CommonOptions& common, report::Register& reg,
                                const report::Actor& actor, const std::string& serial,
                                const std::filesystem::path& work, const std::string& bench,
                                const std::string& reason) {
    const Round round = newest_round(kept_runs(work, serial));
    std::vector<std::filesystem::path> files;
    for (const auto& folder : {round.found, round.left})
        if (!folder.empty()) files.push_back(folder / "record.json");
    if (files.empty())
        return Fault{FaultCode::file_missing, "no run of gauge " + in_quotes(serial) + " came to its end",
                     work.string(), "calibrate it first"};
    std::vector<Record> records;
    std::vector<std::string> names;
    if (const Outcome read = read_given(common, files, {}, records, names); !read) return read.fault();
    accept_reservations(records, actor, reason);
    const auto gauges = by_gauge(records, names);
    if (!gauges) return gauges.fault();
    if (gauges->size() != 1)
        return Fault{FaultCode::inconsistent, "the runs are of more than one gauge", serial,
                     "draft them by their records: tipwright certificate draft"};
    return draft_one(reg, actor, gauges->front(), bench, {});
}

Result<Id> draft_replacement(const CommonOptions& common, report::Register& reg, const report::Actor& actor,
                             const std::string& number, const std::string& reason, const std::string& bench) {
    EarlierOptions options;
    options.number = number;
    options.reason = reason;
    options.bench = bench;
    options.replace = true;
    return draft_following(common, reg, actor, options);
}

Result<std::string> drawing_of_draft(const CommonOptions& common, report::Register& reg, Id draft,
                                     const Layout& layout) {
    const auto maker = CertificateMaker::load(common, layout);
    if (!maker) return maker.fault();
    const auto certificate = reg.certificate(draft);
    if (!certificate) return certificate.fault();
    std::optional<Record> found;
    std::optional<Record> left;
    for (const auto& [id, slot] :
         {std::pair{certificate->as_found, &found}, std::pair{certificate->as_left, &left}}) {
        if (id == 0) continue;
        auto record = reg.record(id);
        if (!record) return record.fault();
        *slot = std::move(*record);
    }
    return left ? maker->draft(*certificate, *left, found) : maker->draft(*certificate, *found, {});
}

void add_draft_verbs(CommandLine& line, CLI::App& group) {
    auto draft = add_verb(line, group, "draft",
                          "Enter records and draft a certificate for each gauge (as found, as left or both)",
                          draft_certificates);
    add_session(draft.command, draft->session);
    draft.command
        .add_option("records", draft->records,
                    "Records of complete runs, any number; or serials: their newest runs in the work folder")
        ->required()
        ->type_name("RECORD|SERIAL");
    add_work_folder(draft.command, draft->work);
    add_sources(draft.command, draft->sources);
    draft.command
        .add_option("--reason", draft->reason,
                    "Why results with reservation are accepted; stands on page 1 and in every file")
        ->type_name("TEXT");
    add_bench_code(draft.command, draft->bench);

    auto preview = add_verb(line, group, "preview", "Draw a draft, to look at before it is checked",
                            preview_certificate);
    add_session(preview.command, preview->session, false);
    preview.command.add_option("draft", preview->drafts, "Number of the draft")->required()->expected(1);
    preview.command.add_option("--out", preview->out, "PDF to write")->required()->type_name("FILE.pdf");
    add_force(preview.command, preview->out);
    add_layout(preview.command, preview->layout);

    struct Step {
        const char* name;
        const char* what;
        ExitCode (*run)(const CommonOptions&, const DraftsOptions&);
        bool why;
    };
    for (const Step& step :
         {Step{"check", "Record that a second person has checked these drafts", check_certificates, false},
          Step{"send-back", "Return a checked draft to whoever drafted it", send_back_certificates, true},
          Step{"discard", "Discard drafts; no certificate number is used up", discard_certificates, true}}) {
        auto verb = add_verb(line, group, step.name, step.what, step.run);
        add_session(verb.command, verb->session);
        verb.command.add_option("drafts", verb->drafts, "Numbers of drafts")->required();
        if (step.why) verb.command.add_option("--reason", verb->why, "Why")->required()->type_name("TEXT");
    }
}

void add_following(CommandLine& line, CLI::App& group) {
    for (const bool replace : {false, true}) {
        auto follow = add_verb(line, group, replace ? "replace" : "amend",
                               replace ? "Draft a certificate that replaces an issued one, which then is void"
                                       : "Draft a certificate that amends an issued one",
                               follow_certificate);
        follow->replace = replace;
        add_session(follow.command, follow->session);
        follow.command.add_option("certificate", follow->number, "Number of the earlier one")->required();
        follow.command.add_option("--reason", follow->reason, "Why; stands on the new one's first page")
            ->required()
            ->type_name("TEXT");
        follow.command
            .add_option("--record", follow->records, "Records to rest on (default: those of the earlier one)")
            ->type_name("RECORD");
        add_sources(follow.command, follow->sources);
        follow.command
            .add_option("--correct", follow->corrections,
                        "What was not measured: customer.name, customer.address, customer.contact, station, "
                        "condition, place, received_on; remark adds one")
            ->type_name("FIELD=TEXT");
        add_bench_code(follow.command, follow->bench);
    }
}

}  // namespace tipwright::program
