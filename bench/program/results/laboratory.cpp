// laboratory: what a laboratory shows of itself: its check gauge in control charts, with capabilities, and
// intercomparisons.
#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/check_runs.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/terminal.hpp"
#include "report/certificate/record_pictures.hpp"
#include "report/files/files.hpp"
#include "report/laboratory/intercomparison_report.hpp"

namespace tipwright::program {

namespace {

using FileList = std::vector<std::pair<std::string, std::string>>;

struct ControlOptions {
    std::vector<std::string> runs;  // files, or a serial number of the register
    std::filesystem::path out;
    std::size_t baseline = 10;
    std::vector<std::string> done;  // what was done about alarms
    std::string paper = "A4";
    std::string language = "en";
    Session session;
};

struct IntercomparisonOptions {
    std::filesystem::path table;
    std::filesystem::path out;
    double sigma_pt = 0;
    std::string paper = "A4";
    std::string language = "en";
};

Outcome write_all(const std::filesystem::path& folder, const FileList& files) {
    if (auto made = make_folder(folder); !made) return made;
    for (const auto& [name, bytes] : files)
        if (auto written = write_file(folder / name, bytes); !written) return written;
    return Done{};
}

Result<std::string> picture(const report::certificate::Chart& chart, const report::Stationery& paper,
                            const std::string& name) {
    const auto measure = report::certificate::Canvas::open(paper.fonts, 760, 380);
    if (!measure) return measure.fault();
    return report::certificate::chart_picture(chart, paper.words, **measure, {570, 285},
                                              report::certificate::Theme::paper, name);
}

ExitCode control(const CommonOptions& common, const ControlOptions& options) {
    auto runs = check_runs(options.runs, options.session);
    if (!runs) return fail(common, runs.fault());
    const auto now = desk_time();
    if (!now) return fail(common, now.fault());
    for (const std::string& one : options.done) {
        auto action = control_action(one, today(*now));
        if (!action) return fail(common, action.fault());
        runs->actions.push_back(std::move(*action));
    }
    calib::ControlSettings settings;
    settings.baseline = options.baseline;
    const auto report = laboratory_report(std::move(*runs), settings);
    if (!report) return fail(common, report.fault());
    const std::string json = report::laboratory_json(*report);
    const auto paper = stationery(common, options.paper, options.language);
    if (!paper) return fail(common, paper.fault());
    if (!options.out.empty()) {
        const auto pdf = report::draw_laboratory(*report, *paper);
        if (!pdf) return fail(common, pdf.fault());
        const auto svg = picture(report::control_picture(*report, paper->words), *paper, "control");
        if (!svg) return fail(common, svg.fault());
        if (auto written = write_all(options.out, {{"laboratory.json", json},
                                                   {"control.csv", report::control_csv(*report)},
                                                   {"cmc.csv", report::capability_csv(*report)},
                                                   {"cmc.toml", report::capability_toml(*report)},
                                                   {"laboratory.pdf", *pdf},
                                                   {"control.svg", *svg}});
            !written)
            return fail(common, written.fault());
    }
    if (common.json) {
        print_json_text(json);
    } else {
        print_lines(stdout, report::laboratory_text(*report));
        if (report->analysis.alarm())
            print_to(stdout, "  %s\n", report::alarm_sentence(*report, paper->words));
        for (const std::string& sentence : report::signal_sentences(*report, paper->words, true))
            print_to(stdout, "  %s\n", sentence);
        if (!options.out.empty())
            print_to(stdout, "%-12s %s\n", "report", (options.out / "laboratory.pdf").string());
    }
    return report->analysis.alarm() ? ExitCode::disagrees : ExitCode::done;
}

ExitCode intercomparison(const CommonOptions& common, const IntercomparisonOptions& options) {
    const auto text = read_file(options.table);
    if (!text) return fail(common, text.fault());
    const auto report = report::read_intercomparison(*text, options.table.string(), options.sigma_pt);
    if (!report) return fail(common, report.fault());
    const std::string json = report::intercomparison_json(*report);
    if (!options.out.empty()) {
        const auto paper = stationery(common, options.paper, options.language);
        if (!paper) return fail(common, paper.fault());
        const auto pdf = report::draw_intercomparison(*report, *paper);
        if (!pdf) return fail(common, pdf.fault());
        if (auto written =
                write_all(options.out, {{"intercomparison.json", json},
                                        {"intercomparison.csv", report::intercomparison_csv(*report)},
                                        {"intercomparison.pdf", *pdf}});
            !written)
            return fail(common, written.fault());
    }
    if (common.json)
        print_json_text(json);
    else
        print_lines(stdout, report::intercomparison_text(*report));
    return ExitCode::done;
}

}  // namespace

void add_laboratory(CommandLine& line) {
    Subcommand group =
        add_group(line.app, "laboratory",
                  "Show how well the laboratory measures: check gauge, capabilities, intercomparisons");
    {
        auto verb =
            add_verb(line, group, "control",
                     "Control charts, components of variance and CMC from a check gauge's runs; exit code "
                     "5 when it is out of control",
                     control);
        verb.command
            .add_option("runs", verb->runs,
                        "Records or certificates of the check gauge, or its serial number in the register")
            .required()
            .type_name("FILE|SERIAL");
        verb.command.add_option("--out", verb->out, "Folder for report, tables and picture").type_name("DIR");
        add_force(verb.command, verb->out, {"laboratory.pdf"});
        verb.command
            .add_option("--baseline", verb->baseline, "Number of runs, from the first, that set the limits")
            .in_range(5, 1000)
            .show_default();
        verb.command
            .add_option("--done", verb->done,
                        "What was done about an alarm, and when: \"2031-05-04 balance levelled again\"; with "
                        "a serial number, findings in the register count too")
            .type_name("\"DATE WHAT\"")
            .one_at_a_time();
        verb.command.add_option("--language", verb->language, "Language: en, de, fr, es, or a words file")
            .show_default();
        add_paper(verb.command, *verb.options);
        add_session(verb.command, verb->session, false);
    }
    auto verb = add_verb(line, group, "intercomparison",
                         "E_n, zeta and z of laboratories against a reference, or against their consensus",
                         intercomparison);
    verb.command
        .add_option("table", verb->table,
                    "Columns participant and value, optionally U, k and at; a participant named 'reference' "
                    "assigns the value")
        .required()
        .type_name("TABLE.csv");
    verb.command.add_option("--out", verb->out, "Folder for report and tables").type_name("DIR");
    add_force(verb.command, verb->out, {"intercomparison.pdf"});
    verb.command
        .add_option("--sigma", verb->sigma_pt,
                    "Standard deviation for proficiency assessment, in the unit of the values (default: that "
                    "of the consensus)")
        .positive();
    verb.command.add_option("--language", verb->language, "Language: en, de, fr, es, or a words file")
        .show_default();
    add_paper(verb.command, *verb.options);
}

}  // namespace tipwright::program
