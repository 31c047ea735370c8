// Which screw, which way, how far: as a drawing, as words, and the curve it is expected to leave.
#include <cmath>

#include "bench/page/views/desk_screens.hpp"
#include "bench/page/views/forms.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::page {

namespace {

std::string with_U(const PageWords& words, const calib::Uncertain& quantity, double coverage) {
    const auto rounded = calib::round_with_uncertainty(quantity.value, calib::expanded(quantity, coverage).U);
    return words.certificate().number(rounded.value) + " ± " +
           words.certificate().number(rounded.uncertainty);
}

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

std::string what_to_do(const PageWords& words, const calib::CompartmentAdvice& side, double coverage) {
    if (!side.significant) return words.text("adjust.leave");
    if (!side.turns)
        return words.text(side.change_mL.value > 0 ? "adjust.more" : "adjust.less",
                          {{"mL", words.number(std::abs(side.change_mL.value), 3)}});
    const double U = calib::expanded(*side.turns, coverage).U;
    return words.text(side.turns->value > 0 ? "adjust.clockwise" : "adjust.counter",
                      {{"turns", words.number(std::abs(side.turns->value), 2)}, {"U", words.number(U, 2)}});
}

}  // namespace

Html adjust_screen(const PageWords& words, const AdjustmentWanted& wanted, const AdjustmentSeen& seen,
                   const std::string& chart) {
    Html out;
    out.raw("<h1>").text(words.text("adjust.title")).raw(" <span class=\"quiet\">").text(seen.serial);
    out.raw("</span></h1>\n<div class=\"cards\">\n");
    for (const auto& side : seen.advice.compartments) {
        const bool one = side.compartment == "spoon";
        out.raw("<section class=\"card turn\"><h2>");
        out.text(one ? words.text("adjust.spoon") : words.text("adjust.screw", {{"side", side.compartment}}));
        out.raw("</h2>\n");
        out.add(screw(side.significant && side.turns.has_value(), side.turns && side.turns->value > 0));
        out.raw("<p class=\"do\">")
            .text(what_to_do(words, side, seen.coverage))
            .raw("</p>\n<p class=\"quiet\">");
        out.text(words.text("adjust.holds", {{"now", with_U(words, side.present_mL, seen.coverage)},
                                             {"change", with_U(words, side.change_mL, seen.coverage)}}));
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
    for (const std::string& remark : seen.advice.remarks) out.raw("<p>").text(remark).raw("</p>\n");
    out.raw("<form class=\"fields\" method=\"get\" action=\"/adjust\">\n").add(hidden("run", wanted.run));
    out.raw("<label class=\"field\"><span>").text(words.text("adjust.per_turn"));
    out.raw("</span><input type=\"number\" step=\"any\" name=\"per_turn\" required");
    if (wanted.mL_per_turn) out.attribute("value", calib::fixed(*wanted.mL_per_turn, 3));
    out.raw("></label>\n<label class=\"field\"><span>").text(words.text("adjust.per_turn_u"));
    out.raw("</span><input type=\"number\" step=\"any\" min=\"0\" name=\"per_turn_u\" required");
    if (wanted.mL_per_turn_u > 0) out.attribute("value", calib::fixed(wanted.mL_per_turn_u, 3));
    out.raw("></label>\n").add(button(words.text("adjust.show"))).raw("</form>\n<p>");
    out.add(link("/gauge-on?state=left&serial=" + url_text(seen.serial), words.text("adjust.then")));
    return out.raw("</p></section>\n</div>\n");
}

}  // namespace tipwright::page
