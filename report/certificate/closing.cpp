// Statements, signatures and the mark of the end.
#include <algorithm>

#include "report/certificate/document_words.hpp"
#include "report/certificate/sections.hpp"

namespace tipwright::report::certificate {

namespace {

struct Signature {
    std::string role;
    std::string name;
    std::string below_name;
};

// A draft is not signed, nor is a translation; the issued document is.
enum class Signed { by_hand, by_seal, elsewhere };

// Names of both at one height, lines to sign at one height, however long the names are. What is sealed needs
// no pen.
void draw_signatures(Flow& flow, const Words& words, const Signature (&both)[2], Signed how) {
    constexpr double gutter = 28;
    constexpr double room_to_sign = 28;
    const double width = (flow.width() - gutter) / 2;
    const double top = flow.y();
    double below = top;
    for (int i = 0; i < 2; ++i) {
        const double x = flow.left() + i * (width + gutter);
        double y = flow.draw_text(both[i].role, label_style, x, top, width);
        y = flow.draw_text(both[i].name, strong_style, x, y + 1, width);
        if (!both[i].below_name.empty()) y = flow.draw_text(both[i].below_name, body_style, x, y, width);
        below = std::max(below, y);
    }
    if (how != Signed::by_hand) {
        flow.set_y(below + 4);
        if (how == Signed::by_seal) flow.paragraph(words.text("closing.sealed"), small_style);
        return;
    }
    const double line = below + room_to_sign;
    for (int i = 0; i < 2; ++i) {
        const double x = flow.left() + i * (width + gutter);
        flow.canvas().line({x, line}, {x + width, line}, {0.6, black, {}});
        flow.set_y(flow.draw_text(words.text("closing.signature"), label_style, x, line + 2, width));
    }
}

}  // namespace

void draw_closing(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Record& record = content.record;
    const bool translated = content.options.translation.has_value();
    const Signed how = translated || record.number == "DRAFT" ? Signed::elsewhere
                       : content.options.seal.has_value()     ? Signed::by_seal
                                                              : Signed::by_hand;
    // Two lines below each name; and room for a pen, or a line about the seal.
    const double signature_height = how == Signed::by_hand ? 90 : how == Signed::by_seal ? 62 : 40;
    std::vector<std::string> statements{words.text("closing.item_only")};
    if (const std::string no_certificate = no_certificate_sentence(words, record); !no_certificate.empty())
        statements.push_back(no_certificate);
    if (!content.as_found()) {
        const bool turned = std::any_of(content.options.work.begin(), content.options.work.end(),
                                        [](const ServiceWork& work) { return work.turns_a || work.turns_b; });
        statements.push_back(words.text(record.state == State::as_left ? "closing.as_left_only"
                                        : turned                       ? "closing.as_found_adjusted"
                                                                       : "closing.as_found_only"));
    }
    if (record.origin == Origin::supplied_data) statements.push_back(words.text("closing.supplied_data"));
    statements.push_back(words.text("closing.supplied"));
    statements.push_back(words.text("closing.reproduction"));
    statements.push_back(words.text("closing.interval"));
    if (translated)
        statements.push_back(words.text("translation.closing", {{"number", record.number}}));
    else
        statements.push_back(words.text("closing.language"));
    if (!translated)
        statements.push_back(words.text("closing.attached", {{"file", std::string(attached_record_name)},
                                                             {"sha256", content.record_sha256}}));
    if (!translated && !content.as_found_sha256.empty())
        statements.push_back(
            words.text("closing.attached_as_found",
                       {{"file", std::string(attached_as_found_name)}, {"sha256", content.as_found_sha256}}));
    if (!content.options.checked_by.empty())
        statements.push_back(words.text("closing.checked", {{"name", content.options.checked_by}}));
    if (!record.program_version.empty())
        statements.push_back(words.text("closing.program", {{"version", record.program_version}}));
    // A signature does not stand on a page of its own, away from what is signed.
    std::string text;
    for (const std::string& statement : statements) text += (text.empty() ? "" : " ") + statement;
    const double height = signature_height + flow.height_of(text, small_style, flow.width());
    constexpr double heading_height = 30;
    flow.need(std::min(heading_height + height, flow.bottom() - flow.top()));
    flow.heading(words.text("closing.heading"));
    flow.paragraph(text, small_style);

    flow.need(signature_height);
    flow.space(8);
    const std::string issued =
        record.issued_on.empty() ? words.text("front.not_issued") : words.date(record.issued_on);
    const std::string function = record.laboratory_facts.function_of(record.authorised_by);
    draw_signatures(
        flow, words,
        {{performed_by_label(words, record),
          record.operator_name.empty() ? words.text("front.not_stated") : record.operator_name,
          record.laboratory_facts.function_of(record.operator_name)},
         {words.text("closing.authorised"),
          record.authorised_by.empty() ? words.text("closing.nobody") : record.authorised_by,
          (function.empty() ? "" : function + "\n") +
              words.text("method.of_state", {{"state", words.text("closing.issued")}, {"text", issued}})}},
        how);
}

void draw_end_mark(Content& content) {
    Flow& flow = content.flow;
    flow.space(10);
    const std::string end = document_end(content.words, content.record);
    const double end_width = flow.canvas().text_width(end, strong_style);
    if (end_width + 60 > flow.width()) {
        flow.need(30);
        flow.paragraph(end, strong_style);
        return;
    }
    flow.need(16);
    const double middle = (flow.left() + flow.right()) / 2;
    const double rule_y = flow.y() + 5;
    flow.canvas().line({flow.left(), rule_y}, {middle - end_width / 2 - 8, rule_y}, {0.8, ink, {}});
    flow.canvas().line({middle + end_width / 2 + 8, rule_y}, {flow.right(), rule_y}, {0.8, ink, {}});
    {
        const Part part(flow.canvas(), Tag::paragraph);
        flow.canvas().text(middle - end_width / 2, rule_y + 3, end, strong_style);
    }
    flow.space(16);
}

}  // namespace tipwright::report::certificate
