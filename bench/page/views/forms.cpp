#include "bench/page/views/forms.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "bench/page/views/fault_words.hpp"
#include "calib/base/dates.hpp"
#include "calib/base/text.hpp"

namespace tipwright::page {

std::optional<double> typed_number(std::string text) {
    std::replace(text.begin(), text.end(), ',', '.');
    if (text.starts_with('+') && !text.starts_with("+-")) text.erase(0, 1);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

namespace {

constexpr std::size_t longest_unbroken = 16;
// Characters of a choice that a list shows whole on the narrowest phone.
constexpr std::size_t always_fits = 20;

}  // namespace

Html hidden(std::string_view name, std::string_view value) {
    Html out;
    return out.raw("<input type=\"hidden\"").attribute("name", name).attribute("value", value).raw(">");
}

Html token_of(const Visitor& visitor) {
    return hidden("token", visitor.token);
}

Html field(const std::string& label, std::string_view name, std::string_view value, Html::Literal kind,
           bool needed) {
    Html out;
    out.raw("<label class=\"field\"><span>").text(label).raw("</span><input type=\"").raw(kind).raw("\"");
    out.attribute("name", name).attribute("value", value).raw(" maxlength=\"300\" autocomplete=\"off\"");
    if (needed) out.raw(" required");
    return out.raw("></label>\n");
}

Html choice(const std::string& label, std::string_view name, std::string_view value,
            const std::vector<Offer>& offers) {
    Html out;
    out.raw("<label class=\"field\"><span>")
        .text(label)
        .raw("</span><select")
        .attribute("name", name)
        .raw(">\n");
    for (const Offer& one : offers) {
        out.raw("<option").attribute("value", one.name);
        if (one.name == value) out.raw(" selected");
        out.raw(">").text(one.title).raw("</option>\n");
    }
    out.raw("</select>");
    const auto longest = std::max_element(offers.begin(), offers.end(), [](const Offer& a, const Offer& b) {
        return code_point_count(a.title) < code_point_count(b.title);
    });
    if (longest == offers.end() || code_point_count(longest->title) <= always_fits)
        return out.raw("</label>\n");
    // A closed list cuts a long title off, and no browser can be told to break it. Whoever hears the page is
    // told the choice in full anyway.
    const auto chosen =
        std::find_if(offers.begin(), offers.end(), [&](const Offer& one) { return one.name == value; });
    out.raw("<span class=\"chosen\" aria-hidden=\"true\" data-chosen>");
    out.text(chosen != offers.end() ? chosen->title : offers.front().title);
    return out.raw("</span></label>\n");
}

Html button(const std::string& text) {
    Html out;
    return out.raw("<button>").text(text).raw("</button>\n");
}

Html trial_hint(const Visitor& visitor, const PageWords& words) {
    Html out;
    if (visitor.trial_passphrase.empty()) return out;
    return out.raw("<p>")
        .text(words.text("log_in.trial", {{"passphrase", visitor.trial_passphrase}}))
        .raw("</p>\n");
}

Html link(const std::string& path, const std::string& text) {
    Html out;
    return out.raw("<a class=\"way\"").attribute("href", path).raw(">").text(text).raw("</a>");
}

Html command_form(const Visitor& visitor, const std::string& path) {
    Html out;
    return out.raw("<form class=\"fields\" method=\"post\"")
        .attribute("action", path)
        .raw(">\n")
        .add(token_of(visitor));
}

std::string word_of_register(const PageWords& words, const std::string& text) {
    const std::string* known = words.find("value." + text);
    return known ? *known : text;
}

std::string cell_text(const PageWords& words, const report::Table::Value& value) {
    if (const auto* whole = std::get_if<std::int64_t>(&value)) return std::to_string(*whole);
    if (const auto* number = std::get_if<report::Table::Number>(&value))
        return words.number(number->value, number->decimals);
    if (const auto* text = std::get_if<std::string>(&value)) return word_of_register(words, *text);
    return "";
}

Html table_of_rows(const PageWords& words, const report::Table& table, const std::vector<ColumnLink>& links,
                   const std::vector<std::string_view>& left_out, std::string_view today) {
    Html out;
    if (table.rows.empty()) return out.raw("<p class=\"quiet\">").text(words.text("desk.none")).raw("</p>\n");
    const auto shown = [&](std::size_t column) {
        return std::find(left_out.begin(), left_out.end(), table.columns[column]) == left_out.end();
    };
    const auto heading = [&](std::size_t column) {
        const std::string* known = words.find("column." + table.columns[column]);
        return known ? *known : table.columns[column];
    };
    out.raw("<div class=\"wide\" tabindex=\"0\" role=\"region\"")
        .attribute("aria-label", words.text("desk.table"))
        .raw("><table role=\"table\">\n<thead role=\"rowgroup\"><tr role=\"row\">");
    for (std::size_t k = 0; k < table.columns.size(); ++k) {
        if (!shown(k)) continue;
        out.raw("<th scope=\"col\" role=\"columnheader\">").text(heading(k)).raw("</th>");
    }
    out.raw("</tr></thead>\n<tbody role=\"rowgroup\">\n");
    for (const auto& row : table.rows) {
        out.raw("<tr role=\"row\">");
        for (std::size_t k = 0; k < row.size() && k < table.columns.size(); ++k) {
            if (!shown(k)) continue;
            const std::string text = cell_text(words, row[k]);
            const auto way = std::find_if(links.begin(), links.end(), [&](const ColumnLink& one) {
                return one.column == table.columns[k];
            });
            // A date or a number is not broken in two.
            out.raw(text.size() <= longest_unbroken ? Html::Literal("<td class=\"short\" role=\"cell\"")
                                                    : Html::Literal("<td role=\"cell\""));
            // On a phone a row is a block, and each cell says what it is of.
            out.attribute("data-of", heading(k)).raw(">");
            if (way != links.end() && !text.empty())
                out.add(link(way->path + url_text(text), text));
            else if (!today.empty() && table.columns[k] == "due_on" && !text.empty())
                out.add(due_day(words, report::text_of(row[k]), today));
            else
                out.text(text);
            out.raw("</td>");
        }
        out.raw("</tr>\n");
    }
    out.raw("</tbody></table></div>\n");
    if (table.cut) out.raw("<p class=\"quiet\">").text(words.text("desk.more")).raw("</p>\n");
    return out;
}

bool is_past(const std::string& due_on, std::string_view today) {
    // ISO dates compare as text.
    return !today.empty() && is_iso_date(due_on) && due_on < today;
}

Html due_day(const PageWords& words, const std::string& due_on, std::string_view today) {
    Html out;
    const bool is_day = is_iso_date(due_on);
    const std::string text = word_of_register(words, due_on);
    if (is_day && !is_past(due_on, today)) return out.text(text);
    out.raw("<span class=\"overdue\"><span aria-hidden=\"true\">⚠</span> ").text(text);
    if (is_day) out.raw(" ").text(words.text("years.overdue"));
    return out.raw("</span>");
}

Html facts_list(const PageWords& words, const Facts& facts) {
    Html out;
    out.raw("<dl class=\"facts\">\n");
    for (const auto& [key, value] : facts) {
        if (value.empty()) continue;
        out.raw("<div><dt>").text(words.text(key)).raw("</dt><dd>").text(value).raw("</dd></div>\n");
    }
    return out.raw("</dl>\n");
}

Html card(const std::string& title, const Html& body, std::string_view place) {
    Html out;
    out.raw("<section class=\"card\"");
    if (!place.empty()) out.attribute("id", place);
    return out.raw("><h2>").text(title).raw("</h2>\n").add(body).raw("</section>\n");
}

Html heading(const PageWords& words, std::string_view key) {
    Html out;
    return out.raw("<h1>").text(words.text(key)).raw("</h1>\n");
}

Html alert(const std::string& text) {
    Html out;
    return out.raw("<p class=\"fault\" role=\"alert\">").text(text).raw("</p>\n");
}

Html check_gauge_alert(const PageWords& words, const std::optional<CheckGaugeSeen>& seen) {
    Html out;
    if (!seen || seen->in_control()) return out;
    out.raw("<section class=\"control\" role=\"alert\"><p><span aria-hidden=\"true\">⚠</span> ");
    const std::string key = "check_gauge." + seen->standing;
    out.text(words.filled(words.find(key) ? key : "check_gauge.not_known",
                          std::array<std::pair<std::string_view, std::string>, 3>{
                              {{"serial", seen->serial},
                               {"day", seen->on},
                               {"why", seen->why ? fault_now(words, *seen->why) : ""}}}));
    out.raw("</p>\n");
    if (seen->why) out.add(own_words_of(words, *seen->why));
    return out.raw("<p>")
        .add(link("/years/gauge?serial=" + url_text(seen->serial), words.text("years.life")))
        .raw("</p></section>\n");
}

std::string side_name(const PageWords& words, const calib::SideMarks& marks, char side) {
    const std::string& mark = side == 'A' ? marks.a : marks.b;
    if (mark.empty()) return {side};
    return words.text("adjust.marked", {{"side", {side}}, {"mark", mark}});
}

Html log_in_first(const Visitor& visitor, const PageWords& words) {
    Html out;
    return out.raw("<p>")
        .add(link("/log-in?next=" + url_text(visitor.path), words.text("desk.log_in_first")))
        .raw("</p>\n");
}

}  // namespace tipwright::page
