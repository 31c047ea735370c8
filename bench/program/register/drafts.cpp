// From records to drafts, and drafts to checked ones.
#include <algorithm>

#include "bench/program/overwrite.hpp"
#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/certificates.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/drafts.hpp"
#include "bench/program/register/records_to_draft.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/run/records_meant.hpp"
#include "bench/program/run/work_folder.hpp"
#include "report/files/files.hpp"

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

using report::Id;
using report::Record;

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

ExitCode draft_certificates(const CommonOptions& common, const DraftOptions& options) {
    std::vector<Record> records;
    std::vector<std::string> names;
    const std::vector<std::filesystem::path> files = records_meant(options.records, options.work);
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
    return each_draft(common, options, "goes back to whoever drafted it",
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

}  // namespace

Result<std::string> enter_run(const CommonOptions& common, const Session& session, const std::string& serial,
                              const std::filesystem::path& work, const std::filesystem::path& run,
                              bool as_left, const std::string& bench_code) {
    std::vector<std::filesystem::path> files{run / "record.json"};
    if (as_left) {
        files = records_meant({serial}, work);
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
        return Fault{FaultCode::file_missing, "no run of gauge " + in_quotes(serial) + " is complete",
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

void add_draft_verbs(CommandLine& line, Subcommand group) {
    auto draft = add_verb(line, group, "draft",
                          "Enter records and draft a certificate for each gauge (as found, as left or both)",
                          draft_certificates);
    add_session(draft.command, draft->session);
    draft.command
        .add_option("records", draft->records,
                    "Records of complete runs, or serials: their newest runs in the work folder")
        .required()
        .type_name("RECORD|SERIAL");
    add_work_folder(draft.command, draft->work);
    add_sources(draft.command, draft->sources);
    draft.command
        .add_option("--reason", draft->reason,
                    "Why results with reservations are accepted; stated on page 1 and in every file")
        .type_name("TEXT");
    add_bench_code(draft.command, draft->bench);

    auto preview = add_verb(line, group, "preview", "Draw a draft, to look at before it is checked",
                            preview_certificate);
    add_session(preview.command, preview->session, false);
    preview.command.add_option("draft", preview->drafts, "Number of the draft").required().values(1);
    preview.command.add_option("--out", preview->out, "PDF to write").required().type_name("FILE.pdf");
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
        verb.command.add_option("drafts", verb->drafts, "Numbers of drafts").required();
        if (step.why) verb.command.add_option("--reason", verb->why, "Why").required().type_name("TEXT");
    }
}

}  // namespace tipwright::program
