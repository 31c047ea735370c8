#include <cstdio>

#include "bench/program/commands.hpp"
#include "bench/program/files.hpp"
#include "bench/program/read_record.hpp"
#include "report/comparison/comparison.hpp"
#include "report/comparison/comparison_pdf.hpp"

namespace tipwright::program {

ExitCode compare(const CommonOptions& common, const CompareOptions& options) {
    std::vector<report::Record> records;
    for (const auto& file : options.records) {
        auto record = read_record(file);
        if (!record) return fail(common, record.fault());
        records.push_back(std::move(*record));
    }
    report::ComparisonWish wish;
    wish.limit_percent = options.limit_percent;
    wish.intensities_mm_h = options.intensities_mm_h;
    const auto comparison = report::compare_records(records, wish);
    if (!comparison) return fail(common, comparison.fault());
    std::printf("%s", report::comparison_text(*comparison).c_str());
    if (options.out.empty()) return ExitCode::done;

    if (auto made = make_folder(options.out); !made) return fail(common, made.fault());
    const auto csv = options.out / "comparison.csv";
    if (auto written = write_file(csv, report::comparison_csv(*comparison)); !written) {
        return fail(common, written.fault());
    }
    auto words = report::certificate::load_words(common.templates / "certificate" / "en.toml");
    if (!words) return fail(common, words.fault());
    report::ComparisonPaper paper;
    paper.paper = options.paper == "Letter" ? report::Paper::letter : report::Paper::a4;
    paper.words = std::move(*words);
    const auto pdf = report::draw_comparison(*comparison, paper);
    if (!pdf) return fail(common, pdf.fault());
    const auto drawn = options.out / "comparison.pdf";
    if (auto written = write_file(drawn, *pdf); !written) return fail(common, written.fault());
    std::printf("\n%-12s %s\n%-12s %s\n", "table", csv.c_str(), "comparison", drawn.c_str());
    return ExitCode::done;
}

}  // namespace tipwright::program
