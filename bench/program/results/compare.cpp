#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/run/records_meant.hpp"
#include "bench/program/terminal.hpp"
#include "report/comparison/comparison.hpp"
#include "report/comparison/comparison_pdf.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct CompareOptions {
    std::vector<std::filesystem::path> records;  // or certificates, or serials of gauges with runs
    std::filesystem::path work = "work";
    std::filesystem::path out;  // empty: only the table on the terminal
    double limit_percent = 5;
    std::vector<double> intensities_mm_h;
    std::string language = "en";
    std::string paper = "A4";
    bool picture = false;  // the chart by itself too
};

nlohmann::ordered_json comparison_for_machines(const report::Comparison& comparison) {
    nlohmann::ordered_json document = {{"ok", true}, {"limit_percent", comparison.request.limit_percent}};
    auto& records = document["records"] = nlohmann::ordered_json::array();
    for (const auto& record : comparison.records) {
        records.push_back({{"key", record.key},
                           {"name", record.name},
                           {"serial", record.serial},
                           {"state", record.state == report::State::as_found ? "as_found" : "as_left"},
                           {"started_at", record.started_at},
                           {"number", record.number}});
        if (!record.left_out.empty()) records.back()["steps_not_stated"] = record.left_out;
    }
    auto& rows = document["errors"] = nlohmann::ordered_json::array();
    for (const auto& intensity : comparison.intensities) {
        for (std::size_t i = 0; i < intensity.errors.size(); ++i) {
            const auto& error = intensity.errors[i];
            if (!error) continue;
            nlohmann::ordered_json row = {{"intensity_mm_h", intensity.intensity_mm_h},
                                          {"key", comparison.records[i].key},
                                          {"error_percent", error->percent.value},
                                          {"error_U_percent", error->U_percent}};
            if (error->en) row["en"] = *error->en;
            rows.push_back(row);
        }
    }
    return document;
}

ExitCode compare(const CommonOptions& common, const CompareOptions& options) {
    std::vector<report::Record> records;
    for (const auto& file : records_meant(options.records, options.work)) {
        auto record = read_sound_record(file);
        if (!record) return fail(common, record.fault());
        records.push_back(std::move(*record));
    }
    report::ComparisonRequest filter;
    filter.limit_percent = options.limit_percent;
    filter.intensities_mm_h = options.intensities_mm_h;
    const auto comparison = report::compare_records(records, filter);
    if (!comparison) return fail(common, comparison.fault());
    nlohmann::ordered_json document;
    if (common.json) {
        document = comparison_for_machines(*comparison);
    } else {
        print_lines(stdout, report::comparison_text(*comparison));
    }
    if (options.out.empty()) {
        if (common.json) print_json(document);
        return ExitCode::done;
    }

    if (auto made = make_folder(options.out); !made) return fail(common, made.fault());
    const auto csv = options.out / "comparison.csv";
    if (auto written = write_file(csv, report::comparison_csv(*comparison)); !written) {
        return fail(common, written.fault());
    }
    const auto paper = stationery(common, options.paper, options.language);
    if (!paper) return fail(common, paper.fault());
    const auto pdf = report::draw_comparison(*comparison, *paper);
    if (!pdf) return fail(common, pdf.fault());
    const auto drawn = options.out / "comparison.pdf";
    if (auto written = write_file(drawn, *pdf); !written) return fail(common, written.fault());
    const auto picture = options.out / "comparison.svg";
    if (options.picture) {
        const auto svg = report::comparison_picture(*comparison, *paper);
        if (!svg) return fail(common, svg.fault());
        if (auto written = write_file(picture, *svg); !written) return fail(common, written.fault());
    }
    if (common.json) {
        document["files"] = {{"table", csv.string()}, {"comparison", drawn.string()}};
        if (options.picture) document["files"]["picture"] = picture.string();
        print_json(document);
        return ExitCode::done;
    }
    print_to(stdout, "\n%-12s %s\n%-12s %s\n", "table", csv.c_str(), "comparison", drawn.c_str());
    if (options.picture) print_to(stdout, "%-12s %s\n", "picture", picture.c_str());
    return ExitCode::done;
}

}  // namespace

void add_compare(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "compare", "Overlay the error curves of several records; E_n and drift", compare);
    command
        .add_option("records", options->records,
                    "Two or more records or certificates, or serials: their newest runs in the work folder")
        .required()
        .type_name("FILE|SERIAL");
    add_work_folder(command, options->work);
    command.add_option("--out", options->out, "Folder for comparison.csv and comparison.pdf")
        .type_name("DIR");
    add_force(command, options->out, {"comparison.csv", "comparison.pdf"});
    command.add_flag("--svg", options->picture, "Also write the chart as comparison.svg").needs("--out");
    command.add_option("--limit", options->limit_percent, "Required accuracy, %").show_default();
    command.add_option("--at", options->intensities_mm_h, "Intensities to compare at, mm/h");
    command
        .add_option("--language", options->language,
                    "Language of PDF and picture: en, de, fr, es, or a words file")
        .type_name("LANGUAGE")
        .show_default();
    add_paper(command, *options);
}

}  // namespace tipwright::program
