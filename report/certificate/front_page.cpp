// Title, identity and marks of the first page; running head and foot of all.
#include <algorithm>

#include "report/certificate/document_words.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/page_foot.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/square_code.hpp"
#include "report/certificate/text_block.hpp"

namespace tipwright::report::certificate {

namespace {

// Small, so that the results and their chart find room on this page.
constexpr Style entry_style{Face::regular, 7.4, black};

struct Entry {
    std::string label;
    std::string value;
};

// Label left, value beside it; returns the y below.
double draw_entry(Flow& flow, const Entry& entry, double x, double y, double label_width, double width,
                  const Style& value_style = entry_style) {
    const double label_end = flow.draw_text(entry.label, label_style, x, y + 1.2, label_width - 6);
    const double value_end =
        flow.draw_text(entry.value, value_style, x + label_width, y, width - label_width);
    return std::max(label_end, value_end) + 1.5;
}

double draw_entries(Flow& flow, const std::vector<Entry>& entries, double x, double y, double label_width,
                    double width) {
    for (const Entry& entry : entries)
        if (!entry.value.empty()) y = draw_entry(flow, entry, x, y, label_width, width);
    return y;
}

// Room for the longest word of any label, so that none is cut, and for whole labels that are not too long.
double label_width(Flow& flow, const std::vector<Entry>& entries) {
    constexpr double most_for_one_line = 84;
    double width = 60;
    for (const Entry& entry : entries) {
        width = std::max(width, widest_piece(flow.canvas(), entry.label, label_style));
        if (const double whole = flow.canvas().text_width(entry.label, label_style);
            whole < most_for_one_line)
            width = std::max(width, whole);
    }
    return width + 8;
}

// On one line as large as may be; a title that is too long for that wraps at the least size.
double draw_title(Flow& flow, const std::string& title, double x, double y, double width) {
    Style style{Face::bold, 20, ink};
    while (style.size > 14 && flow.canvas().text_width(title, style) > width) style.size -= 0.5;
    const Part part(flow.canvas(), Tag::title, title);
    return flow.draw_text(title, style, x, y, width);
}

std::string joined(const Party& party) {
    std::string out = party.name;
    for (const std::string* part : {&party.address, &party.contact})
        if (!part->empty()) out += (out.empty() ? "" : "\n") + *part;
    return out;
}

std::vector<Entry> gauge_entries(const Content& content) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    const GaugeIdentity& identity = content.record.identity;
    const calib::Gauge& gauge = content.record.gauge;
    const auto diameter = numbers.pair(gauge.catch_diameter_mm, content.coverage());
    const auto or_not_stated = [&](const std::string& text) {
        return text.empty() ? words.text("front.not_stated") : text;
    };
    return {
        {by_document(words, content.record, "front.item"),
         words.named("translated", identity.kind_title, identity.kind_title)},
        {words.text("front.model"), or_not_stated(identity.model)},
        {words.text("front.serial"), or_not_stated(identity.serial)},
        {words.text("front.catch"),
         words.text("front.catch_value", {{"value", diameter.value},
                                          {"U", diameter.U},
                                          {"k", diameter.k},
                                          {"area", numbers.significant(gauge.catch_area_cm2().value, 5)}})},
        {words.text("front.catch_method"),
         words.named("translated", identity.catch_diameter_method, identity.catch_diameter_method)},
        {words.text("front.nominal"),
         words.text("front.nominal_value", {{"depth", numbers.significant(gauge.nominal_tip_mm, 6)},
                                            {"volume", numbers.figures(gauge.nominal_tip_mL(), 4)}})},
        {words.text("front.contacts"), gauge.contacts.empty() ? "" : std::to_string(gauge.contacts.size())},
    };
}

std::string time_span(const Words& words, const Record& record) {
    std::string begun = words.moment(record.started_at);
    const std::string ended = words.moment(record.ended_at);
    if (ended.empty() || ended == begun) return begun;
    // Of one day the day once: "2 March 2026, 08:14 to 10:51 UTC".
    constexpr std::size_t day = 10;
    constexpr std::size_t minute = 16;
    if (record.started_at.size() >= minute && record.ended_at.size() >= minute &&
        record.started_at.substr(0, day) == record.ended_at.substr(0, day))
        return words.text("format.moment",
                          {{"date", words.date(record.started_at.substr(0, day))},
                           {"time", words.text("format.range", {{"low", record.started_at.substr(11, 5)},
                                                                {"high", record.ended_at.substr(11, 5)}})}});
    return begun.empty() ? ended : words.text("format.date_range", {{"low", begun}, {"high", ended}});
}

// Who sent it, from where and how it came; where and when it was measured.
std::vector<Entry> party_entries(const Content& content) {
    const Words& words = content.words;
    const Record& record = content.record;
    // Days may lie between two states.
    const std::string dates = content.by_state([&](const Record& state) { return time_span(words, state); });
    const auto or_not_stated = [&](const std::string& text) {
        return text.empty() ? words.text("front.not_stated") : text;
    };
    const std::string supplier =
        record.origin == Origin::supplied_data ? or_not_stated(joined(record.laboratory)) : std::string();
    return {
        {words.text("front.customer"), or_not_stated(joined(record.customer))},
        {words.text("front.supplied_by"), supplier},
        {words.text("front.station"), record.identity.station},
        {words.text("front.received"), words.date(record.received_on)},
        {words.text("front.condition"), record.identity.condition},
        {by_document(words, record, "front.place"), or_not_stated(record.place)},
        {by_document(words, record, "front.dates"), or_not_stated(dates)},
    };
}

double draw_seal(Flow& flow, const Words& words, const SealMark& mark, double right, double y) {
    constexpr double size = 68;
    const seal::QrMatrix& code = mark.code;
    if (code.side <= 0 ||
        code.dark.size() != static_cast<std::size_t>(code.side) * static_cast<std::size_t>(code.side))
        return y;
    const double module = size / code.side;
    const double x = right - size;
    const Part part(flow.canvas(), Tag::figure, "QR " + mark.caption);
    draw_square_code(flow.canvas(), code, x, y, size);
    Style caption = label_style;
    caption.size = 5.6;
    // Below the quiet zone of four modules that readers want.
    const double below = flow.draw_text(words.text("front.seal"), caption, x, y + size + 4 * module, size);
    return flow.draw_text(mark.caption + "\n" + words.text("front.seal_check"), caption, x, below, size);
}

struct Head {
    double below = 0;       // of the laboratory's name and picture
    double right = 0;       // what stands beside the seal ends here
    double seal_below = 0;  // of the seal, which reaches down beside the title
};

// Name of the laboratory at the left, its picture and the seal at the right.
Result<Head> draw_letterhead(Content& content) {
    Flow& flow = content.flow;
    const Letterhead& head = content.options.letterhead;
    const Party laboratory = issuer_of(content.record, head.laboratory);
    const double y = 13 * mm;
    double right = flow.right();
    Head out{y, right, y};
    if (content.options.seal) {
        out.seal_below = draw_seal(flow, content.words, *content.options.seal, right, y);
        right -= 68 + 14;
        out.right = right;
    }
    constexpr double height = 48;
    const auto draw_picture = [&](const std::string& bytes, const std::string& name, double width,
                                  const std::string& said) -> Outcome {
        const Part part(flow.canvas(), Tag::figure, said);
        auto drawn = flow.canvas().picture(bytes, name, right - width, y, width, height);
        if (!drawn) return drawn;
        out.below = y + height;
        right -= width + 14;
        return Done{};
    };
    if (!head.picture.empty())
        if (auto drawn = draw_picture(head.picture, head.picture_name, 130, laboratory.name); !drawn)
            return drawn.fault();
    if (!head.mark.empty())
        if (auto drawn = draw_picture(head.mark, head.mark_name, 64, content.words.text("facts.mark"));
            !drawn)
            return drawn.fault();
    const double width = right - flow.left();
    double text_y =
        flow.draw_text(content.words.text("front.laboratory"), label_style, flow.left(), y, width);
    const std::string& name =
        laboratory.name.empty() ? content.words.text("front.not_stated") : laboratory.name;
    text_y = flow.draw_text(name, {Face::bold, 11.5, black}, flow.left(), text_y, width);
    for (const std::string* line : {&laboratory.address, &laboratory.contact, &head.note})
        if (!line->empty())
            text_y = flow.draw_text(*line, {Face::regular, 7.8, black}, flow.left(), text_y, width);
    out.below = std::max(out.below, text_y) + 5;
    return out;
}

// What this certificate does to an earlier one, and why.
std::string earlier_words(const Content& content) {
    const std::optional<EarlierCertificate>& earlier = content.options.earlier;
    if (!earlier) return {};
    return content.words.text(earlier->amended ? "front.amends" : "front.replaces",
                              {{"number", earlier->number}, {"reason", earlier->reason}});
}

// That this is a translation, and of what.
std::string translation_words(const Content& content) {
    const std::optional<TranslationOf>& of = content.options.translation;
    if (!of) return {};
    const Words& words = content.words;
    const std::string& unknown = words.text("translation.unknown");
    return words.text("translation.box",
                      {{"number", document_name(words, content.record)},
                       {"date", words.date(content.record.issued_on)},
                       {"language", words.named("translation", of->language,
                                                of->language.empty() ? unknown : of->language)}});
}

// Small, as they are many on a draft and its results and their chart belong on this page too.
constexpr Style mark_style{Face::bold, 6.9, black};
constexpr Style notice_style{Face::bold, 8.2, black};

struct Notice {
    std::string text;
    Style style = notice_style;
};

// What whoever holds the paper must know first, in one box.
double draw_boxed(Content& content, std::vector<Notice> notices, double y) {
    Flow& flow = content.flow;
    std::erase_if(notices, [](const Notice& notice) { return notice.text.empty(); });
    if (notices.empty()) return y;
    constexpr double padding = 4;
    constexpr double between = 3;
    const double inner = flow.width() - 16;
    double height = 2 * padding - between;
    for (const Notice& notice : notices) height += flow.height_of(notice.text, notice.style, inner) + between;
    flow.canvas().rectangle(flow.left(), y, flow.width(), height, {1.5, black, {}});
    double text_y = y + padding;
    for (const Notice& notice : notices)
        text_y = flow.draw_text(notice.text, notice.style, flow.left() + 8, text_y, inner) + between;
    return y + height + 9;
}

// What stands with reservation, of either state, and who accepted it; of both alike but once.
std::string reserved_words(const Content& content) {
    std::vector<std::vector<std::string>> of_states;
    for (const Record* state : content.states())
        of_states.push_back(reservation_sentences(content.words, *state));
    const auto in_all = [&](const std::string& sentence) {
        return std::all_of(of_states.begin(), of_states.end(), [&](const auto& one) {
            return std::find(one.begin(), one.end(), sentence) != one.end();
        });
    };
    const auto joined = [](const std::string& before, const std::string& more) {
        return before + (before.empty() ? "" : " ") + more;
    };
    std::vector<std::string> lines(1);
    for (const std::string& sentence : of_states.front())
        if (in_all(sentence)) lines.front() = joined(lines.front(), sentence);
    for (std::size_t i = 0; i < of_states.size(); ++i) {
        std::string own;
        for (const std::string& sentence : of_states[i])
            if (!in_all(sentence)) own = joined(own, sentence);
        if (!own.empty()) lines.push_back(content.of_state(*content.states()[i], own));
    }
    std::string out;
    for (const std::string& line : lines)
        if (!line.empty())
            out += (out.empty() ? content.words.text("reservation.heading") + " " : "\n") + line;
    return out;
}

}  // namespace

std::vector<std::string> marks(const Content& content, bool shortened) {
    const Record& record = content.record;
    const std::string prefix = shortened ? "mark.short_" : "mark.";
    std::vector<std::string> out;
    const auto add = [&](bool applies, const std::string& key) {
        if (applies) out.push_back(content.words.text(prefix + key));
    };
    if (shortened && content.options.translation) out.push_back(content.words.text("translation.short"));
    add(record.number.empty() || record.number == "DRAFT", "draft");
    add(record.invented, "invented");
    add(record.origin == Origin::virtual_bench, "virtual_bench");
    add(record.origin == Origin::supplied_data, "supplied_data");
    add(record.authorised_by.empty(), "not_authorised");
    return out;
}

Outcome draw_front(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Record& record = content.record;
    const auto head = draw_letterhead(content);
    if (!head) return head.fault();
    double y = head->below;
    flow.canvas().line({flow.left(), y}, {head->right, y}, {1.4, ink, {}});
    y += 12;

    // Beside the seal as wide as "as found and as left" needs.
    const double box_width = content.options.seal ? 190 : 214;
    const double title_width = head->right - flow.left() - box_width - 14;
    double title_y = draw_title(flow, document_title(words, record), flow.left(), y, title_width);
    const std::string& subtitle = by_compartments(words, record, "title.subtitle");
    Style subtitle_style{Face::regular, 11, black};
    while (subtitle_style.size > 9 && flow.canvas().text_width(subtitle, subtitle_style) > title_width)
        subtitle_style.size -= 0.5;
    title_y = flow.draw_text(subtitle, subtitle_style, flow.left(), title_y + 1, title_width);
    const double x = head->right - box_width;
    const std::string state = content.as_found() ? words.text("title.both") : content.state_word(record);
    double box_y = y;
    for (const Entry& entry :
         {Entry{document_number_label(words, record), document_number(words, record)},
          Entry{words.text("front.issued"),
                record.issued_on.empty() ? words.text("front.not_issued") : words.date(record.issued_on)},
          Entry{words.text("front.state"), state}})
        box_y = draw_entry(flow, entry, x, box_y, content.options.seal ? 78 : 104, box_width, strong_style);
    y = std::max({title_y, box_y, head->seal_below}) + 9;

    std::string said;
    for (const std::string& mark : marks(content, false)) said += (said.empty() ? "" : " ") + mark;
    std::string reserved = reserved_words(content);
    const std::string lacking =
        content.by_state([&](const Record& one) { return traceability_sentence(words, one); });
    if (!lacking.empty()) reserved += (reserved.empty() ? "" : "\n") + lacking;
    y = draw_boxed(
        content, {{translation_words(content)}, {earlier_words(content)}, {said, mark_style}, {reserved}}, y);

    constexpr double gutter = 18;
    const double column = (flow.width() - gutter) / 2;
    const auto parties = party_entries(content);
    const auto gauge = gauge_entries(content);
    const double left_end = draw_entries(flow, parties, flow.left(), y, label_width(flow, parties), column);
    const double right_end =
        draw_entries(flow, gauge, flow.left() + column + gutter, y, label_width(flow, gauge), column);
    flow.set_y(std::max(left_end, right_end) + 2);
    return Done{};
}

void draw_heads_and_feet(Content& content) {
    Flow& flow = content.flow;
    Canvas& canvas = flow.canvas();
    const Words& words = content.words;
    const std::string head = document_name(words, content.record);
    std::string warning;
    for (const std::string& mark : marks(content, true)) warning += (warning.empty() ? "" : " · ") + mark;
    const int pages = canvas.page_count();
    const Style foot_style{Face::regular, 6.8, grey(0.25)};
    const Style warning_style{Face::bold, 7.2, black};
    canvas.decoration(true);
    for (int page = 0; page < pages; ++page) {
        canvas.select_page(page);
        if (page > 0) {
            const double y = 13 * mm;
            const double warning_width = canvas.text_width(warning, warning_style);
            // A long number leaves no room beside it for the marks: they get a line of their own.
            const double free = flow.width() - warning_width - 10;
            const std::string line =
                wrap(canvas, head, small_style, free > 150 ? free : flow.width()).front();
            canvas.text(flow.left(), y + 8, line, small_style);
            canvas.text(flow.right() - warning_width, free > 150 ? y + 8 : y - 1, warning, warning_style);
            canvas.line({flow.left(), y + 12}, {flow.right(), y + 12}, {0.6, ink, {}});
        }
        const auto [y, foot_width] = draw_page_foot(flow, words, page, pages);
        const std::string number = wrap(canvas, head, foot_style, foot_width).front();
        double foot_y = flow.draw_text(number, foot_style, flow.left(), y, foot_width);
        foot_y = flow.draw_text(words.text("page.foot_note"), foot_style, flow.left(), foot_y, foot_width);
        if (!content.options.letterhead.foot.empty())
            flow.draw_text(wrap(canvas, content.options.letterhead.foot, foot_style, foot_width).front(),
                           foot_style, flow.left(), foot_y, foot_width);
    }
}

}  // namespace tipwright::report::certificate
