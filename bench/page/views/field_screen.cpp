#include "bench/page/views/field_screen.hpp"

#include <cmath>

#include "bench/page/views/forms.hpp"
#include "calib/base/rounding.hpp"
#include "report/field_check/field_check_page.hpp"

namespace tipwright::page {

namespace {

std::string typed_in(const Typed& typed, std::string_view name, const std::string& otherwise = "") {
    const auto found = typed.find(name);
    return found == typed.end() || found->second.empty() ? otherwise : found->second;
}

Html measure(const std::string& label, std::string_view name, const std::string& value, bool needed) {
    Html out;
    out.raw("<label class=\"field\"><span>").text(label);
    out.raw("</span><input type=\"text\" inputmode=\"decimal\" autocomplete=\"off\" maxlength=\"20\"");
    out.attribute("name", name).attribute("value", value);
    if (needed) out.raw(" required");
    return out.raw("></label>\n");
}

Html tick(const std::string& label, std::string_view name, bool on) {
    Html out;
    out.raw("<label class=\"tick\"><input type=\"checkbox\" value=\"yes\"").attribute("name", name);
    if (on) out.raw(" checked");
    return out.raw("> <span>").text(label).raw("</span></label>\n");
}

// None that is not nil is shown as nil.
std::string probability(const PageWords& words, double value) {
    constexpr double least_shown = 0.001;
    return value < least_shown ? "< " + words.number(least_shown, 3) : words.number(value, 3);
}

// Without the marks of an index.
std::string plain(std::string text) {
    std::erase(text, '~');
    return text;
}

const char* verdict_key(calib::Verdict verdict) {
    if (verdict == calib::Verdict::pass) return "field.within";
    if (verdict == calib::Verdict::fail) return "field.outside";
    return "field.undecided";
}

}  // namespace

std::optional<FieldCheckWanted> field_check_of(const Typed& typed, std::string& wrong) {
    FieldCheckWanted out;
    out.serial = typed_in(typed, "serial");
    while (!out.serial.empty() && out.serial.back() == ' ') out.serial.pop_back();
    while (!out.serial.empty() && out.serial.front() == ' ') out.serial.erase(0, 1);
    out.collected = typed_in(typed, "method") == "collected";
    out.began_on_tip = typed_in(typed, "began") == "yes";
    out.ended_on_tip = typed_in(typed, "ended") == "yes";
    out.made_on = typed_in(typed, "on");
    out.accept = typed_in(typed, "accept");
    out.note = typed_in(typed, "note");
    constexpr double most_tips = 1e7;
    const auto tips = typed_number(typed_in(typed, "tips"));
    if (!tips || !(*tips >= 1 && *tips <= most_tips) || *tips != std::floor(*tips)) {
        wrong = "field.tips";
        return std::nullopt;
    }
    out.tips = static_cast<int>(*tips);
    struct Part {
        const char* name;
        const char* word;
        double* value;
    };
    for (const Part& part : {Part{"amount", "field.amount", &out.amount},
                             {"amount_u", "field.amount_u", &out.amount_u},
                             {"astray", "field.astray", &out.astray},
                             {"astray_u", "field.astray_u", &out.astray_u},
                             {"water", "field.water", &out.water_temperature_C}}) {
        if (typed_in(typed, part.name).empty() && part.value != &out.amount) continue;
        const auto value = typed_number(typed_in(typed, part.name));
        if (!value) {
            wrong = part.word;
            return std::nullopt;
        }
        *part.value = *value;
    }
    for (const auto& [name, word, value] : {std::tuple{"duration", "field.duration", &out.duration_s},
                                            {"limit", "field.limit", &out.limit_percent}}) {
        if (typed_in(typed, name).empty()) continue;
        *value = typed_number(typed_in(typed, name));
        if (!*value) {
            wrong = word;
            return std::nullopt;
        }
    }
    return out;
}

Html field_check_screen(const Visitor& visitor, const PageWords& words, const Typed& typed,
                        const std::string& name, const std::string& wrong) {
    Html out = heading(words, "field.title");
    if (!wrong.empty()) out.add(alert(wrong));
    out.raw("<p class=\"waits\" data-waits role=\"status\" hidden")
        .attribute("data-words", words.text("field.waits"));
    out.attribute("data-refused", words.text("field.waits_refused")).raw("></p>\n");
    if (visitor.person.empty()) out.add(log_in_first(visitor, words));
    out.raw("<p class=\"caution\">").text(words.text("caution.field")).raw("</p>\n");
    out.raw("<form class=\"fields\" method=\"post\" action=\"/field-check\" data-field-check>\n");
    out.add(token_of(visitor)).add(hidden("sheet", name));
    out.raw("<label class=\"field\"><span>").text(words.text("gauge_on.serial"));
    out.raw("</span><input type=\"text\" name=\"serial\" maxlength=\"100\" autocomplete=\"off\" ");
    out.raw("autocapitalize=\"off\" spellcheck=\"false\" data-scan required");
    out.attribute("value", typed_in(typed, "serial")).raw("></label>\n");
    out.raw("<p class=\"scan\" hidden><button type=\"button\" class=\"plain\" data-camera>");
    out.text(words.text("gauge_on.camera")).raw("</button></p>\n");
    out.add(choice(words.text("field.method"), "method", typed_in(typed, "method"),
                   {{"poured", words.text("field.poured")}, {"collected", words.text("field.collected")}}));
    out.raw("<label class=\"field\"><span>").text(words.text("field.tips"));
    out.raw(
        "</span><input class=\"count\" type=\"text\" inputmode=\"numeric\" name=\"tips\" maxlength=\"8\" ");
    out.raw("autocomplete=\"off\" required").attribute("value", typed_in(typed, "tips")).raw("></label>\n");
    out.raw("<p class=\"counting\" hidden><button type=\"button\" data-count>");
    out.text(words.text("field.one_more")).raw("</button></p>\n");
    out.add(measure(words.text("field.amount"), "amount", typed_in(typed, "amount"), true));
    out.add(measure(words.text("field.amount_u"), "amount_u",
                    typed_in(typed, "amount_u", words.number(0.5, 1)), false));
    out.add(measure(words.text("field.astray"), "astray", typed_in(typed, "astray", "0"), false));
    out.add(measure(words.text("field.astray_u"), "astray_u",
                    typed_in(typed, "astray_u", words.number(0.5, 1)), false));
    out.add(measure(words.text("field.duration"), "duration", typed_in(typed, "duration"), false));
    out.add(measure(words.text("field.water"), "water", typed_in(typed, "water", "20"), false));
    out.add(measure(words.text("field.limit"), "limit", typed_in(typed, "limit"), false));
    out.add(tick(words.text("field.began"), "began", typed_in(typed, "began") == "yes"));
    out.add(tick(words.text("field.ended"), "ended", typed_in(typed, "ended") == "yes"));
    out.add(field(words.text("field.on"), "on", typed_in(typed, "on"), "date"));
    out.add(field(words.text("field.accept"), "accept", typed_in(typed, "accept"), "text"));
    out.add(field(words.text("gauge_on.note"), "note", typed_in(typed, "note"), "text"));
    return out.add(button(words.text("field.do"))).raw("</form>\n");
}

Html field_check_result(const PageWords& words, const FieldCheckSeen& seen) {
    const calib::FieldCheck& check = seen.check;
    Html out = heading(words, "field.title");
    Html body;
    body.raw("<p class=\"error\"><span class=\"label\">").text(words.text("field.error"));
    body.raw("</span> <span class=\"big\">");
    body.text(words.with_U(check.error_percent.value, check.error_expanded.U))
        .raw("</span> <span class=\"pm\">% (k = ");
    body.text(words.number(check.error_expanded.k, 2)).raw(")</span></p>\n<p>");
    const auto rounded =
        calib::round_with_uncertainty(std::abs(check.error_percent.value), check.error_expanded.U);
    body.text(words.text(check.error_percent.value > 0 ? "field.reads_more" : "field.reads_less",
                         {{"percent", words.certificate().number(rounded.value)}}))
        .raw("</p>\n");
    if (check.conformity && seen.wanted.limit_percent) {
        body.raw("<p class=\"do\">");
        body.text(words.text(verdict_key(check.conformity->verdict),
                             {{"limit", words.number(*seen.wanted.limit_percent, 1)}}));
        body.raw("</p>\n<p>");
        body.text(words.text("field.rule", {{"p", probability(words, check.conformity->wrong_probability)}}));
        body.raw("</p>\n");
    }
    // What the bucket held: calib/decision/field_check.hpp counts it as half a tip, none to one in U.
    const double edge = (seen.wanted.ended_on_tip ? 0 : 0.5) - (seen.wanted.began_on_tip ? 0 : 0.5);
    if (edge != 0)
        body.raw("<p>")
            .text(words.text(edge > 0 ? "field.half_more" : "field.half_less",
                             {{"tips", words.number(seen.wanted.tips + edge, 1)}}))
            .raw("</p>\n");
    Facts facts{
        {"field.tips", std::to_string(seen.wanted.tips)},
        {"field.volume", words.with_U(check.volume_mL.value, calib::expanded(check.volume_mL).U) + " mL"},
        {"field.depths",
         words.number(check.depth_true_mm, 2) + " / " + words.number(check.depth_indicated_mm, 2) + " mm"}};
    if (check.intensity_mm_h)
        facts.emplace_back("field.intensity", words.intensity(*check.intensity_mm_h, 1) + " mm/h");
    body.add(facts_list(words, facts));
    for (const calib::FieldRemark& remark : check.remarks)
        body.raw("<p>").text(plain(report::field_remark_text(words.certificate(), remark))).raw("</p>\n");
    body.raw("<p>").text(words.text("field.kept")).raw("</p>\n<p>");
    body.add(link("/years/gauge?serial=" + url_text(seen.wanted.serial), words.text("years.life")))
        .raw("</p>\n<p>");
    body.add(link("/field-check", words.text("field.next"))).raw("</p>\n");
    return out.add(card(seen.wanted.serial, body));
}

}  // namespace tipwright::page
