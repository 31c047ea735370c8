// Labels: for gauges whose certificate stands, a PDF to print on sheets of labels or on tape.
#include <algorithm>

#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/results.hpp"
#include "report/files/files.hpp"
#include "report/labels/labels.hpp"
#include "report/seal/seal.hpp"

namespace tipwright::program {

namespace {

struct LabelOptions {
    Session session;
    std::vector<std::string> serials;
    std::string sheet = "a4-3x8";
    int first = 1;
    std::string language = "en";
    std::filesystem::path out;
};

Result<report::Label> label_of(report::Register& reg, const std::string& serial) {
    report::ListFilter filter;
    filter.serial = serial;
    const auto numbers = reg.valid_certificates(filter);
    if (!numbers) return numbers.fault();
    if (numbers->empty())
        return Fault{FaultCode::missing_field, "gauge " + in_quotes(serial) + " has no valid certificate",
                     "serial",
                     "issue one first, or look for its serial with 'tipwright register gauge list'"};
    const auto certificate = reg.certificate(numbers->back());
    if (!certificate) return certificate.fault();
    const auto gauges = reg.gauges_with_serial(certificate->serial);
    if (!gauges) return gauges.fault();
    if (!certificate->seal || gauges->size() != 1)
        return Fault{FaultCode::inconsistent,
                     "gauge " + in_quotes(serial) + " is registered under more than one model", "serial",
                     "take the labels of each by its certificate"};
    const auto code = seal::qr_matrix(seal::qr_text(*certificate->seal));
    if (!code) return code.fault();
    const auto record = reg.record(certificate->as_left != 0 ? certificate->as_left : certificate->as_found);
    if (!record) return record.fault();
    const report::GaugeEntry& gauge = gauges->front();
    // A later calibration of another laboratory is not what this certificate makes due.
    const std::string due = gauge.last_calibrated_on == certificate->calibrated_on ? gauge.due_on : "";
    return report::Label{gauge.serial, gauge.model,     certificate->calibrated_on, due, certificate->number,
                         *code,        record->invented};
}

ExitCode make_labels(const CommonOptions& common, const LabelOptions& options) {
    const auto sheets = report::label_sheets();
    const auto sheet = std::find_if(sheets.begin(), sheets.end(),
                                    [&](const auto& one) { return one.name == options.sheet; });
    const auto words = certificate_words(common, options.language);
    if (!words) return fail(common, words.fault());
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    std::vector<report::Label> labels;
    for (const std::string& serial : options.serials) {
        auto label = label_of(*reg, serial);
        if (!label) return refuse(common, label.fault());
        labels.push_back(std::move(*label));
    }
    const auto pdf = report::labels_pdf(labels, *sheet, options.first, *words);
    if (!pdf) return fail(common, pdf.fault());
    if (const auto written = write_file(options.out, *pdf); !written) return fail(common, written.fault());
    return say(common,
               std::to_string(labels.size()) + (labels.size() == 1 ? " label" : " labels") + " for " +
                   std::string(sheet->title) + ": " + options.out.string() +
                   "\nPrint at full size, not fitted to the page.\n",
               {{"labels", static_cast<std::int64_t>(labels.size())}, {"file", options.out.string()}});
}

}  // namespace

void add_label(CommandLine& line) {
    auto label =
        add_verb(line, line.app, "label",
                 "Draw labels for gauges: serial, date of calibration, date due, QR code", make_labels);
    add_session(label.command, label->session, false);
    label.command.add_option("serials", label->serials, "Serial numbers").required().type_name("SERIAL");
    std::vector<std::string> names;
    for (const auto& sheet : report::label_sheets()) names.emplace_back(sheet.name);
    label.command.add_option("--sheet", label->sheet, "Sheet or tape of labels to print on")
        .one_of(names)
        .show_default();
    label.command
        .add_option("--first", label->first, "Position of the first label on a sheet already begun, from 1")
        .in_range(1, 100)
        .show_default();
    label.command.add_option("--language", label->language, "Language: en, de, fr, es, or a words file")
        .show_default();
    label.command.add_option("--out", label->out, "PDF file").required().type_name("FILE");
    add_force(label.command, label->out);
}

}  // namespace tipwright::program
