#include "report/certificate/certificate.hpp"

#include <algorithm>

#include "report/certificate/document_words.hpp"
#include "report/certificate/font_file.hpp"
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
    std::string now = said(record);
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
    info.author = certificate::issuer_of(record, content.options.letterhead.laboratory).name;
    info.subject = record.identity.model + " " + record.identity.serial;
    info.creator = "tipwright " + record.program_version;
    info.language = content.words.language();
    info.signature = content.options.signature;
    info.date = record.issued_on.empty() ? record.ended_at : record.issued_on;
    return info;
}

// The sizes that are tried, largest first; smaller, the least letters would be below 6 pt.
constexpr double sizes[] = {1.0, 0.97, 0.94, 0.91, 0.88, 0.85, 0.835};
static_assert(sizes[std::size(sizes) - 1] * certificate::small_style.size >= 6);

// The largest size at which page 1 has room for a chart of that height below its results; nothing: none has.
Result<std::optional<double>> size_of_first_page(const Content& content, Canvas& canvas, double chart) {
    for (const double size : sizes) {
        Flow flow(canvas);
        canvas.set_scale(size);
        Content measured{static_cast<const certificate::Facts&>(content), flow, content.record_sha256,
                         content.as_found_sha256};
        if (auto drawn = certificate::draw_front(measured); !drawn) return drawn.fault();
        certificate::draw_summary(measured);
        certificate::draw_results_as_it_leaves(measured);
        if (flow.pages() == 1 && certificate::has_room_for_error_chart(measured, chart))
            return std::optional(size);
    }
    return std::optional<double>();
}

// The chart of the results belongs on their page: all of page 1 is drawn as much smaller as leaves it room
// there.
Outcome draw_first_page(Content& content, Canvas& canvas) {
    canvas.measure_only(true);
    double fitting = 1;
    for (const double chart : {certificate::good_error_chart, certificate::lowest_error_chart}) {
        const auto size = size_of_first_page(content, canvas, chart);
        if (!size) return size.fault();
        if (!*size) continue;
        fitting = **size;
        break;
    }
    canvas.measure_only(false);
    canvas.set_scale(fitting);
    if (auto drawn = certificate::draw_front(content); !drawn) return drawn;
    certificate::draw_summary(content);
    certificate::draw_results_as_it_leaves(content);
    certificate::draw_error_chart(content);
    return Done{};
}

void draw_rest_that_is_stated(Content& content) {
    certificate::draw_results_as_found(content);
    certificate::draw_conformity(content);
    certificate::draw_conditions(content);
    certificate::draw_instruments(content);
    certificate::draw_method(content);
    certificate::draw_closing(content);
}

// What else belongs on a certificate ends with the page after the chart, as much smaller as it takes.
void draw_second_page(Content& content, Canvas& canvas) {
    Flow& flow = content.flow;
    if (canvas.scale() < 1) flow.new_page();  // a page has one size
    const bool begun = flow.y() > flow.top();
    const auto begin = [&](Flow& on, double size) {
        if (size == 1) return;
        if (begun) on.new_page();
        canvas.set_scale(size);
        on.set_y(on.top());
    };
    canvas.measure_only(true);
    double fitting = 1;
    for (const double size : sizes) {
        Flow tried = flow;
        canvas.set_scale(1);
        begin(tried, size);
        Content measured{static_cast<const certificate::Facts&>(content), tried, content.record_sha256,
                         content.as_found_sha256};
        draw_rest_that_is_stated(measured);
        if (tried.pages() > flow.pages() + (begun ? 1 : 0)) continue;
        fitting = size;
        break;
    }
    canvas.set_scale(1);
    canvas.measure_only(false);
    begin(flow, fitting);
    draw_rest_that_is_stated(content);
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

std::vector<Attachment> attached(const Record& record, const std::optional<Record>& as_found) {
    std::vector<Attachment> records{{std::string(attached_record_name), "application/json",
                                     "Record of the measurement (JSON)", record_to_json(record)}};
    if (as_found)
        records.push_back({std::string(attached_as_found_name), "application/json",
                           "Record of the measurement as found (JSON)", record_to_json(*as_found)});
    return records;
}

// Of all that a certificate is written from. One that were forgotten here would cost a
// second drawing.
std::set<char32_t> letters_of(const std::vector<Attachment>& records, const CertificateOptions& options) {
    std::set<char32_t> letters = certificate::common_letters();
    const auto add = [&](std::string_view text) { certificate::add_letters(letters, text); };
    options.words.each(add);
    for (const Attachment& one : records) add(one.bytes);
    add(options.letterhead.note);
    add(options.letterhead.foot);
    add(options.checked_by);
    if (options.seal) add(options.seal->caption);
    if (options.earlier) add(options.earlier->number + options.earlier->reason);
    for (const EarlierErrors& earlier : options.history) add(earlier.number);
    for (const ServiceWork& work : options.work) add(work.found + work.done);
    return letters;
}

// `shown`: as much of the records as may be stated; whole are those that are attached. `letters`: that may be
// drawn; empty: all.
Result<std::string> draw_with(const std::set<char32_t>& letters, std::vector<Attachment> records,
                              const Record& shown, const CertificateOptions& options) {
    const bool a4 = options.paper == Paper::a4;
    auto canvas =
        Canvas::open(options.fonts, a4 ? a4_width : letter_width, a4 ? a4_height : letter_height, letters);
    if (!canvas) return canvas.fault();

    Flow flow(**canvas);
    Content content{{shown, options, options.words, certificate::Numbers(options.words)},
                    flow,
                    sha256_hex(records.front().bytes),
                    options.as_found ? sha256_hex(records.back().bytes) : ""};
    if (auto drawn = draw_first_page(content, **canvas); !drawn) return drawn.fault();
    draw_second_page(content, **canvas);
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
    const std::vector<Attachment> records = attached(record, wanted.as_found);
    auto drawn = draw_with(letters_of(records, options), records, shown, options);
    // A letter that was missing may be in the fonts.
    return drawn ? drawn : draw_with({}, records, shown, options);
}

}  // namespace tipwright::report
