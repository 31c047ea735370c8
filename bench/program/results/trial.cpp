// tipwright trial: which kind of gauge for which place.
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/descriptions/site.hpp"
#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/results/trial_history.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"
#include "report/trial/trial_pdf.hpp"
#include "report/trial/trial_tables.hpp"

namespace tipwright::program {

namespace {

namespace trial = calib::trial;

struct TrialOptions {
    std::vector<std::filesystem::path> records;
    Session session;
    bool from_register = false;
    std::vector<std::string> kinds;
    std::vector<std::string> sites;
    std::filesystem::path costs;
    std::filesystem::path out;
    double limit_percent = 5;
    double probability = 0.95;
    double required = 0.95;
    std::string by = "year";
    std::string corrected = "none";
    std::string paper = "A4";
    std::string language = "en";
};

template <class Names>
std::size_t index_of(const Names& names, const std::string& name) {
    for (std::size_t i = 0; i < names.size(); ++i)
        if (name == names[i]) return i;
    return 0;
}

template <class Names>
std::vector<std::string> strings(const Names& names) {
    return {names.begin(), names.end()};
}

// The default: a climate of low, one of middle and one of high intensities.
std::vector<std::string> sites_of(const TrialOptions& options) {
    if (!options.sites.empty()) return options.sites;
    return {"itu-zone-e", "itu-zone-k", "itu-zone-p"};
}

Result<std::vector<report::TrialSite>> read_sites(const CommonOptions& common, const TrialOptions& options) {
    std::vector<report::TrialSite> out;
    for (const std::string& name : sites_of(options)) {
        auto site = bench::load_site(name, common.templates);
        if (!site) return site.fault();
        out.push_back({site->title, site->source, std::move(site->climate), site->adjacent_assumed});
    }
    return out;
}

Outcome write_all(const CommonOptions& common, const TrialOptions& options, const report::Trial& result) {
    const auto paper = stationery(common, options.paper, options.language);
    if (!paper) return paper.fault();
    const auto pdf = report::draw_trial(result, *paper);
    if (!pdf) return pdf.fault();
    if (auto made = make_folder(options.out); !made) return made;
    const std::pair<const char*, std::string> files[] = {{"curves.csv", report::trial_curves_csv(result)},
                                                         {"places.csv", report::trial_places_csv(result)},
                                                         {"trial.json", report::trial_json(result)},
                                                         {"trial.pdf", *pdf}};
    for (const auto& [name, bytes] : files)
        if (auto written = write_file(options.out / name, bytes); !written) return written;
    return Done{};
}

ExitCode run_trial(const CommonOptions& common, const TrialOptions& options) {
    if (options.records.empty() && !options.from_register)
        return fail(common, {FaultCode::usage, "nothing is given to try", "trial",
                             "name records, or --from-register"});
    std::vector<report::Record> records;
    for (const auto& file : options.records) {
        auto record = read_sound_record(file);
        if (!record) return fail(common, record.fault());
        records.push_back(std::move(*record));
    }
    std::vector<report::KindHistory> histories;
    if (options.from_register) {
        auto reg = open_register(options.session);
        if (!reg) return refuse(common, reg.fault());
        const auto now = desk_time();
        if (!now) return refuse(common, now.fault());
        auto kept = trial_from_register(*reg, options.kinds, today(*now));
        if (!kept) return refuse(common, kept.fault());
        std::move(kept->records.begin(), kept->records.end(), std::back_inserter(records));
        histories = std::move(kept->histories);
    }
    const auto sites = read_sites(common, options);
    if (!sites) return fail(common, sites.fault());
    trial::Costs costs;
    if (!options.costs.empty()) {
        auto read = bench::load_costs(options.costs);
        if (!read) return fail(common, read.fault());
        costs = std::move(*read);
    }
    report::TrialRequest request;
    request.limit_percent = options.limit_percent;
    request.probability = options.probability;
    request.required = options.required;
    request.by = static_cast<trial::Amount>(index_of(trial::amount_names, options.by));
    request.corrected = static_cast<trial::Corrected>(index_of(trial::corrected_names, options.corrected));
    request.kinds = options.kinds;
    const auto result = report::make_trial(records, *sites, histories, costs, request);
    if (!result) return fail(common, result.fault());
    if (!options.out.empty())
        if (auto written = write_all(common, options, *result); !written)
            return fail(common, written.fault());
    if (common.json) {
        print_json_text(report::trial_json(*result));
        return ExitCode::done;
    }
    print_lines(stdout, report::trial_text(*result));
    if (!options.out.empty())
        for (const char* name : {"curves.csv", "places.csv", "trial.json", "trial.pdf"})
            print_to(stdout, "written      %s\n", (options.out / name).string());
    return ExitCode::done;
}

}  // namespace

void add_trial(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "trial",
        "Compare kinds of gauges by several specimens of each, to say which kind suits which place",
        run_trial);
    command.add_option("records", options->records, "Records or certificates of the specimens")
        .type_name("FILE");
    command.add_flag("--from-register", options->from_register,
                     "Take the records of issued certificates, and the years in service, from the register");
    add_session(command, options->session, false);
    command.add_option("--kind", options->kinds, "Only these kinds").type_name("KIND");
    command.add_option("--site", options->sites, "Rain of a place: a file, or a name from templates/sites")
        .type_name("SITE");
    command.add_option("--costs", options->costs, "What gauges of each kind cost").type_name("FILE");
    command.add_option("--limit", options->limit_percent, "Required accuracy, %").show_default();
    command
        .add_option("--probability", options->probability,
                    "Probability with which a gauge of a kind must meet --limit")
        .show_default();
    command
        .add_option("--required", options->required,
                    "Lowest probability at which a choice counts as supported")
        .show_default();
    command.add_option("--by", options->by, "Amount of rain to choose by")
        .one_of(strings(trial::amount_names))
        .show_default();
    command.add_option("--corrected", options->corrected, "How the logger corrects")
        .one_of(strings(trial::corrected_names))
        .show_default();
    command.add_option("--out", options->out, "Folder for trial.pdf, trial.json and two tables")
        .type_name("DIR");
    add_force(command, options->out, {"trial.pdf", "trial.json"});
    command.add_option("--language", options->language, "Language: en, de, fr, es, or a words file")
        .type_name("LANGUAGE")
        .show_default();
    add_paper(command, *options);
}

}  // namespace tipwright::program
