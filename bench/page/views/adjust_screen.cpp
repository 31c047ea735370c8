// Which screw, which way, how far: as a drawing, as words, and the curve it is expected to leave.
#include <algorithm>
#include <cmath>

#include "bench/page/views/desk_screens.hpp"
#include "bench/page/views/forms.hpp"
#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::page {

namespace {

// A screw's head seen from its slot, with an arrow the way it is turned.
Html screw(bool turned, bool clockwise) {
    Html out;
    out.raw("<svg class=\"screw\" viewBox=\"-70 -70 140 140\" aria-hidden=\"true\"><g");
    if (!clockwise) out.raw(" transform=\"scale(-1 1)\"");
    out.raw("><circle r=\"38\"/><path d=\"M-24 0H24\"/>");
    if (turned)
        out.raw(
            "<path d=\"M-45 -27A52 52 0 0 1 45 -27\"/><path class=\"head\" d=\"M52 -12L33 -28L57 -37Z\"/>");
    return out.raw("</g></svg>\n");
}

// None: nobody said which way lets more water in.
std::optional<bool> turned_clockwise(const AdjustmentSeen& seen, const calib::CompartmentAdvice& side) {
    if (!side.turns || !seen.clockwise_is_more) return std::nullopt;
    return (side.turns->value > 0) == *seen.clockwise_is_more;
}

std::string what_to_do(const PageWords& words, const AdjustmentSeen& seen,
                       const calib::CompartmentAdvice& side) {
    if (!side.significant) return words.text("adjust.leave");
    if (!side.turns)
        return words.text(side.change_mL.value > 0 ? "adjust.more" : "adjust.less",
                          {{"mL", words.number(std::abs(side.change_mL.value), 3)}});
    const auto clockwise = turned_clockwise(seen, side);
    const char* key = "adjust.counter";
    if (!clockwise)
        key = side.turns->value > 0 ? "adjust.turn_more" : "adjust.turn_less";
    else if (*clockwise)
        key = "adjust.clockwise";
    const double U = calib::expanded(*side.turns, seen.coverage).U;
    return words.text(key,
                      {{"turns", words.number(std::abs(side.turns->value), 2)}, {"U", words.number(U, 2)}});
}

// A and B only where somebody knows which is which: else the larger and the smaller.
std::string name_of_screw(const PageWords& words, const AdjustmentSeen& seen, std::size_t i) {
    const auto& sides = seen.advice.compartments;
    if (sides.size() != 2) return words.text("adjust.spoon");
    if (!seen.sides_known)
        return words.text(sides[i].present_mL.value >= sides[1 - i].present_mL.value
                              ? "adjust.screw_larger"
                              : "adjust.screw_smaller");
    return words.text("adjust.screw", {{"side", side_name(words, seen.marks, i == 0 ? 'A' : 'B')}});
}

std::string remark_text(const PageWords& words, const calib::AdjustmentRemark& remark) {
    const std::string key = "adjust_remark." + remark.id;
    if (!words.find(key)) return remark.text;
    std::vector<std::pair<std::string_view, std::string>> fillings;
    for (const auto& number : remark.numbers) {
        std::vector<std::string> told;
        for (const double value : number.values) told.push_back(words.number(value, number.decimals));
        fillings.emplace_back(number.name, joined(told, ", "));
    }
    return words.filled(key, fillings);
}

// What was turned goes into the gauge's life, and from there onto its certificate.
Html turns_made(const Visitor& visitor, const PageWords& words, const AdjustmentSeen& seen) {
    Html out;
    if (visitor.person.empty()) return out.add(log_in_first(visitor, words));
    out.add(command_form(visitor, "/adjust/turned")).add(hidden("serial", seen.serial));
    const std::size_t screws = std::min<std::size_t>(seen.advice.compartments.size(), 2);
    // Nobody can say of which screw where no side is known.
    if (screws == 1 || seen.sides_known)
        for (std::size_t i = 0; i < screws; ++i) {
            const Html::Literal name = i == 0 ? Html::Literal("turns_a") : Html::Literal("turns_b");
            out.raw("<label class=\"field\"><span>")
                .text(words.text("adjust.turns_made", {{"screw", name_of_screw(words, seen, i)}}))
                .raw("</span><input type=\"text\" maxlength=\"12\" autocomplete=\"off\" name=\"")
                .raw(name)
                .raw("\"></label>\n");
        }
    return out.add(button(words.text("adjust.then"))).raw("</form>\n");
}

bool decides(const calib::AdjustmentRemark& remark) {
    return remark.id == "cannot_pass" || remark.id == "cannot_pass_stay" || remark.id == "leave_alone" ||
           remark.id == "worse";
}

}  // namespace

Html adjust_screen(const Visitor& visitor, const PageWords& words, const AdjustmentWanted& wanted,
                   const AdjustmentSeen& seen, const std::string& chart) {
    const auto with_U = [&](const calib::Uncertain& quantity) {
        return words.with_U(quantity.value, calib::expanded(quantity, seen.coverage).U);
    };
    Html out;
    out.raw("<h1>").text(words.text("adjust.title")).raw(" <span class=\"quiet\">").text(seen.serial);
    out.raw("</span></h1>\n");
    if (seen.advice.compartments.size() == 2 && !seen.sides_known)
        out.add(alert(words.text("adjust.side_not_known")));
    // What decides whether a screw is touched at all stands before the screws.
    for (const auto& remark : seen.advice.remarks)
        if (decides(remark)) out.add(alert(remark_text(words, remark)));
    if (seen.advice.largest_left_percent > seen.advice.largest_found_percent)
        out.add(alert(
            words.text("adjust.not_better", {{"now", words.number(seen.advice.largest_found_percent, 2)},
                                             {"after", words.number(seen.advice.largest_left_percent, 2)}})));
    if (seen.mL_per_turn && !wanted.mL_per_turn)
        out.raw("<p>").text(words.text("adjust.by_kind", {{"mL", with_U(*seen.mL_per_turn)}})).raw("</p>\n");
    out.raw("<p class=\"caution\">").text(words.text("caution.adjust")).raw("</p>\n");
    out.raw("<div class=\"cards\">\n");
    for (std::size_t i = 0; i < seen.advice.compartments.size(); ++i) {
        const auto& side = seen.advice.compartments[i];
        const auto clockwise = turned_clockwise(seen, side);
        out.raw("<section class=\"card turn\"><h2>").text(name_of_screw(words, seen, i)).raw("</h2>\n");
        out.add(screw(side.significant && clockwise.has_value(), clockwise.value_or(true)));
        out.raw("<p class=\"do\">").text(what_to_do(words, seen, side)).raw("</p>\n<p class=\"quiet\">");
        const std::string now = with_U(side.present_mL);
        // To leave a screw as it is has no uncertainty.
        out.text(side.change_mL.value == 0
                     ? words.text("adjust.holds_now", {{"now", now}})
                     : words.text("adjust.holds", {{"now", now}, {"change", with_U(side.change_mL)}}));
        out.raw("</p></section>\n");
    }
    if (!chart.empty())
        out.raw("<figure><figcaption>")
            .text(words.text("adjust.curves"))
            .raw("</figcaption>\n")
            .add(Html::made_elsewhere(chart))
            .raw("</figure>\n");
    out.raw("<section class=\"card\"><p>");
    out.text(words.text("adjust.largest", {{"now", words.number(seen.advice.largest_found_percent, 2)},
                                           {"after", words.number(seen.advice.largest_left_percent, 2)}}));
    out.raw("</p>\n");
    if (std::any_of(seen.advice.compartments.begin(), seen.advice.compartments.end(),
                    [](const auto& side) { return side.significant && side.turns.has_value(); }))
        out.raw("<p>").text(words.text("adjust.seen_from")).raw("</p>\n");
    for (const auto& remark : seen.advice.remarks)
        if (!decides(remark)) out.raw("<p>").text(remark_text(words, remark)).raw("</p>\n");
    out.raw("<form class=\"fields\" method=\"get\" action=\"/adjust\">\n").add(hidden("run", wanted.run));
    out.raw("<label class=\"field\"><span>").text(words.text("adjust.per_turn"));
    out.raw("</span><input type=\"number\" step=\"any\" name=\"per_turn\" required");
    if (wanted.mL_per_turn) out.attribute("value", calib::fixed(*wanted.mL_per_turn, 3));
    out.raw("></label>\n<label class=\"field\"><span>").text(words.text("adjust.per_turn_u"));
    out.raw("</span><input type=\"number\" step=\"any\" min=\"0\" name=\"per_turn_u\" required");
    if (wanted.mL_per_turn_u > 0) out.attribute("value", calib::fixed(wanted.mL_per_turn_u, 3));
    out.raw("></label>\n").add(button(words.text("adjust.show"))).raw("</form>\n");
    if (!visitor.trial_passphrase.empty()) out.raw("<p>").text(words.text("adjust.virtual")).raw("</p>\n");
    return out.add(turns_made(visitor, words, seen)).raw("</section>\n</div>\n");
}

}  // namespace tipwright::page
