#include <cstdio>

#include "bench/program/budgets_option.hpp"
#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/run/records_meant.hpp"
#include "bench/program/terminal.hpp"
#include "report/certificate/canvas.hpp"
#include "report/certificate/record_pictures.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct CertifyOptions {
    std::filesystem::path record;  // or the serial of a gauge with runs
    std::filesystem::path work = "work";
    std::filesystem::path out;
    std::string paper = "A4";
    std::string language = "en";
    std::string budgets = "largest";  // or "all"
    std::filesystem::path pictures;   // folder for the charts; empty: none
};

// The charts of the certificate by themselves.
Outcome write_pictures(const CommonOptions& common, const report::Record& record,
                       const CertifyOptions& options) {
    auto words = certificate_words(common, options.language);
    if (!words) return words.fault();
    report::CertificateOptions drawn;
    drawn.words = std::move(*words);
    auto measure = report::certificate::Canvas::open(drawn.fonts, 595, 842);
    if (!measure) return measure.fault();
    if (auto made = make_folder(options.pictures); !made) return made;
    for (const auto& picture : report::certificate::record_pictures(record, drawn, **measure, {},
                                                                    report::certificate::Theme::paper))
        if (auto written = write_file(options.pictures / (picture.name + ".svg"), picture.svg); !written)
            return written;
    return Done{};
}

Result<std::string> drawing_of(const CommonOptions& common, const report::Record& record,
                               const CertifyOptions& options) {
    auto words = certificate_words(common, options.language);
    if (!words) return words.fault();
    report::CertificateOptions layout;
    layout.words = std::move(*words);
    layout.paper = paper_named(options.paper);
    layout.budgets = options.budgets == "all" ? report::Budgets::every_step : report::Budgets::largest;
    return report::draw_certificate(record, layout);
}

ExitCode certify(const CommonOptions& common, const CertifyOptions& options) {
    const auto record = read_sound_record(records_meant({options.record}, options.work).back());
    if (!record) return fail(common, record.fault());
    const auto pdf = drawing_of(common, *record, options);
    if (!pdf) return fail(common, pdf.fault());
    if (auto written = write_file(options.out, *pdf); !written) return fail(common, written.fault());
    if (!options.pictures.empty())
        if (auto drawn = write_pictures(common, *record, options); !drawn) return fail(common, drawn.fault());
    if (common.json) {
        print_results(common, *record, {{"certificate", options.out}});
    } else {
        print_to(stdout, "%-12s %s\n", "certificate", options.out.c_str());
    }
    return ExitCode::done;
}

}  // namespace

void add_certify(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "certify", "Draw the certificate of a record", certify);
    command
        .add_option("record", options->record,
                    "Record (JSON); or a serial: its newest run in the work folder, as left if there is one")
        .required()
        .type_name("RECORD|SERIAL");
    add_work_folder(command, options->work);
    command.add_option("--out", options->out, "Certificate to write").required().type_name("FILE.pdf");
    command.add_option("--language", options->language, "Language: en, de, fr, es, or a words file")
        .show_default();
    add_force(command, [options = options] {
        std::vector<std::filesystem::path> places{options->out};
        std::error_code ignored;
        for (std::filesystem::directory_iterator one(options->pictures, ignored), end; !ignored && one != end;
             one.increment(ignored))
            if (one->path().extension() == ".svg") places.push_back(one->path());
        return places;
    });
    command.add_option("--svg", options->pictures, "Also write the charts to this folder, as SVG pictures")
        .type_name("DIR");
    add_paper(command, *options);
    add_budgets(command, *options);
}

}  // namespace tipwright::program
