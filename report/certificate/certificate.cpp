#include "report/certificate/certificate.hpp"

#include <algorithm>

#include "report/certificate/document_words.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/files/fingerprint.hpp"
#include "report/record/record_checks.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report {

namespace certificate {

std::vector<const Record*> Facts::states() const {
    if (as_found()) return {as_found(), &record};
    return {&record};
}

std::string Facts::state_word(State state) const {
    return words.text(state == State::as_found ? "title.as_found" : "title.as_left");
}

std::string Facts::of_state(const Record& which, const std::string& text) const {
    if (!as_found()) return text;
    return words.text("method.of_state", {{"state", state_word(which)}, {"text", text}});
}

std::string Facts::by_state(const std::function<std::string(const Record&)>& said) const {
    const std::string now = said(record);
    if (!as_found() || said(*as_found()) == now) return now;
    std::string out;
    for (const Record* state : states())
        if (const std::string text = said(*state); !text.empty())
            out += (out.empty() ? "" : "\n") + of_state(*state, text);
    return out;
}

bool Facts::is_static() const {
    return is_static_check(record);
}

bool Facts::has_charts() const {
    return !is_static() || record.evaluation.steps.size() > 1;
}

}  // namespace certificate

namespace {

using certificate::Attachment;
using certificate::Canvas;
using certificate::Content;
using certificate::Flow;

// ISO 216 A4; ANSI Y14.1 A, in points.
constexpr double a4_width = 210 * certificate::mm;
constexpr double a4_height = 297 * certificate::mm;
constexpr double letter_width = 8.5 * 72;
constexpr double letter_height = 11 * 72;

certificate::DocumentInfo info_of(const Content& content) {
    const Record& record = content.record;
    certificate::DocumentInfo info;
    info.title = certificate::document_name(content.words, record);
    info.author = record.laboratory.name;
    info.subject = record.identity.model + " " + record.identity.serial;
    info.creator = "tipwright " + record.program_version;
    info.language = content.words.language();
    info.signature = content.options.signature;
    info.date = record.issued_on.empty() ? record.ended_at : record.issued_on;
    return info;
}

// The mark speaks for calibrations within the accreditation: not where nothing is traceable, and not where
// others measured (ISO/IEC 17025:2017 8.1.3 leaves its use to the accreditation body; common practice).
std::optional<Fault> check_mark(const Record& record, const Letterhead& head) {
    if (head.mark.empty() || record.statement.document == calib::DocumentKind::calibration_certificate)
        return std::nullopt;
    const bool supplied = record.statement.document == calib::DocumentKind::evaluation_report;
    return Fault{FaultCode::not_permitted,
                 "the letterhead bears an accreditation mark, but " +
                     std::string(supplied ? "the laboratory did not measure itself"
                                          : "no instrument's certificate is named, so nothing is traceable"),
                 head.mark_name, "take a letterhead without accreditation_mark for this document"};
}

}  // namespace

Result<std::string> draw_certificate(const Record& record, const CertificateOptions& wanted) {
    if (auto fault = check_results(record)) return *fault;
    if (auto fault = check_mark(record, wanted.letterhead)) return *fault;
    if (wanted.as_found)
        if (auto fault = check_mark(*wanted.as_found, wanted.letterhead)) return *fault;
    if (wanted.as_found)
        if (auto fault = check_pair(record, *wanted.as_found)) return *fault;
    if (auto fault = check_some_stated(record)) return *fault;
    CertificateOptions options = wanted;
    if (options.as_found) {
        if (auto fault = check_some_stated(*options.as_found)) return *fault;
        options.as_found = as_stated(*options.as_found);
    }
    const Record shown = as_stated(record);
    const bool a4 = options.paper == Paper::a4;
    auto canvas = Canvas::open(options.fonts, a4 ? a4_width : letter_width, a4 ? a4_height : letter_height);
    if (!canvas) return canvas.fault();

    std::vector<Attachment> records{{std::string(attached_record_name), "application/json",
                                     "Record of the measurement (JSON)", record_to_json(record)}};
    if (options.as_found)
        records.push_back({std::string(attached_as_found_name), "application/json",
                           "Record of the measurement as found (JSON)", record_to_json(*wanted.as_found)});

    Flow flow(**canvas);
    Content content{{shown, options, options.words, certificate::Numbers(options.words)},
                    flow,
                    sha256_hex(records.front().bytes),
                    options.as_found ? sha256_hex(records.back().bytes) : ""};
    if (auto drawn = certificate::draw_front(content); !drawn) return drawn.fault();
    certificate::draw_summary(content);
    certificate::draw_results(content);
    certificate::draw_conformity(content);
    certificate::draw_conditions(content);
    certificate::draw_instruments(content);
    certificate::draw_method(content);
    certificate::draw_closing(content);
    flow.begin_annex(content.words.text("annex.heading"));
    certificate::draw_correction(content);
    certificate::draw_details(content);
    certificate::draw_charts(content);
    certificate::draw_conformity_steps(content);
    certificate::draw_history(content);
    certificate::draw_uncertainty(content);
    certificate::draw_monte_carlo(content);
    certificate::draw_models(content);
    certificate::draw_method_in_detail(content);
    certificate::draw_end_mark(content);
    certificate::draw_heads_and_feet(content);
    const auto pages = (*canvas)->finish();
    if (!pages) return pages.fault();
    // Whoever checks a certificate checks the issued one: a translation carries no record.
    if (options.translation) records.clear();
    return certificate::finish_pdf(*pages, records, info_of(content), (*canvas)->structure());
}

}  // namespace tipwright::report
