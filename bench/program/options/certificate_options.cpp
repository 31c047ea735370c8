#include "bench/program/options/verb.hpp"
#include "bench/program/register/certificates.hpp"

namespace tipwright::program {

namespace {

void add_layout(CLI::App& command, Layout& layout) {
    command.add_option("--language", layout.language, "en, de, fr, es, or a words file")
        ->capture_default_str()
        ->group("Layout");
    add_paper(command, layout);
    command.add_option("--letterhead", layout.letterhead, "The laboratory's own head and foot")
        ->envname("TIPWRIGHT_LETTERHEAD")
        ->type_name("FILE.toml")
        ->group("Layout");
    command
        .add_option("--country", layout.country,
                    "Country of the laboratory, for the DCC (default: the letterhead's)")
        ->envname("TIPWRIGHT_COUNTRY")
        ->type_name("CC")
        ->group("Layout");
}

void add_bench(CLI::App& command, std::string& bench) {
    command
        .add_option("--bench-code", bench,
                    "Code of the bench in certificate numbers: 1 to 8 capitals or digits")
        ->envname("TIPWRIGHT_BENCH_CODE")
        ->capture_default_str();
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
    add_bench(draft.command, draft->bench);

    auto preview = add_verb(line, group, "preview", "Draw a draft, to look at before it is checked",
                            preview_certificate);
    add_session(preview.command, preview->session, false);
    preview.command.add_option("draft", preview->drafts, "Number of the draft")->required()->expected(1);
    preview.command.add_option("--out", preview->out, "PDF to write")->required()->type_name("FILE.pdf");
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

void add_issue(CommandLine& line, CLI::App& group) {
    auto issue =
        add_verb(line, group, "issue",
                 "Number, seal and store checked certificates; after Ctrl-C the same command does the "
                 "rest",
                 issue_certificates);
    add_session(issue.command, issue->session);
    auto* drafts = issue.command.add_option("drafts", issue->drafts, "Numbers of checked drafts");
    auto* all = issue.command.add_flag("--all", issue->all, "All checked drafts")->excludes(drafts);
    issue.command
        .add_option("--reason", issue->reason,
                    "Why results with reservation are accepted; stands on page 1 and in every file")
        ->excludes(all)
        ->type_name("TEXT");
    add_bench(issue.command, issue->bench);
    issue.command.add_option("--out", issue->out, "Folder to write them to as well")->type_name("DIR");
    issue.command.add_option("--threads", issue->threads, "Drawn at once (default: all processors)")
        ->check(CLI::Range(1, 64));
    add_layout(issue.command, issue->layout);
    add_keys_folder(issue.command, issue->keys);
    add_passphrase(issue.command, issue->passphrase);
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
        add_bench(follow.command, follow->bench);
    }
}

}  // namespace

void add_certificate_group(CommandLine& line) {
    auto& group =
        add_group(line.app, "certificate", "Certificates: draft, check, issue, amend, replace, hand out");
    add_draft_verbs(line, group);
    add_issue(line, group);
    add_following(line, group);

    auto show_one =
        add_verb(line, group, "show", "Show what the register knows of a certificate", show_certificate);
    add_session(show_one.command, show_one->session, false);
    show_one.command.add_option("which", show_one->which, "Number, or number of a draft")->required();

    auto list = add_verb(line, group, "list", "List the latest certificates and drafts", list_certificates);
    add_session(list.command, list->session, false);
    list.command.add_option("--serial", list->list.serial, "Only of this gauge")->type_name("SERIAL");
    list.command.add_option("--customer", list->list.customer, "Only of this customer")->type_name("NAME");
    list.command.add_option("--station", list->list.station, "Only of this station of the customer")
        ->type_name("NAME");
    list->list.limit = 50;
    list.command.add_option("--limit", list->list.limit, "Most rows")->capture_default_str();
    add_csv(list.command, list->csv);

    auto hand_out = add_verb(line, group, "export", "Write the files of certificates, a folder each",
                             export_certificates);
    add_session(hand_out.command, hand_out->session, false);
    hand_out.command.add_option("certificates", hand_out->numbers, "Numbers")
        ->required()
        ->type_name("NUMBER");
    hand_out.command.add_option("--out", hand_out->out, "Folder")->required()->type_name("DIR");
}

}  // namespace tipwright::program
