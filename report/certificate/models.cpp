// Every candidate for the volume per tip as a function of the flow, with its figures.
#include <algorithm>
#include <cmath>

#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"

namespace tipwright::report::certificate {

namespace {

struct ParameterWords {
    std::string estimates;    // "V0 = 6.1500 mL", a line each
    std::string half_widths;  // of the same, a line each
};

ParameterWords parameters_words(const Content& content, const calib::RateCandidate& candidate) {
    const auto names = calib::parameter_names(candidate.form);
    ParameterWords out;
    for (std::size_t i = 0; i < candidate.parameters.size() && i < names.size(); ++i) {
        const auto pair = content.numbers.pair(candidate.parameters[i], content.coverage());
        const std::string symbol = names[i].symbol == "V0" ? "‹V›~0~" : "‹" + names[i].symbol + "›";
        // Blanks that no line breaks at.
        std::string unit = names[i].unit == "1" ? "" : "\u00A0" + names[i].unit;
        for (std::size_t at = 0; (at = unit.find(' ', at)) != std::string::npos;)
            unit.replace(at, 1, "\u00A0");
        out.estimates.append(i ? "\n" : "")
            .append(symbol)
            .append("\u00A0=\u00A0")
            .append(pair.value)
            .append(unit);
        out.half_widths += (i ? "\n" : "") + pair.U;
    }
    return out;
}

std::string conclusion(const Content& content, const calib::RateModel& model) {
    const Words& words = content.words;
    const calib::RateCandidate* chosen = model.chosen_candidate();
    if (!chosen) return words.text("model.chosen_table");
    const std::string form = words.text("model." + calib::name_of(chosen->form));
    return words.text(chosen->dof > 0.5 ? "model.chosen" : "model.chosen_untested", {{"form", form}});
}

}  // namespace

void draw_models(Content& content) {
    const auto& model = content.record.evaluation.model;
    if (!model) return;
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    flow.heading(words.text("model.heading"));
    Table table;
    table.caption = words.text("model.intro");
    table.caption_style = small_style;
    table.columns = {{words.text("model.form"), 66, Align::left},
                     {words.text("model.equation"), 106, Align::left},
                     {words.text("model.estimate"), 100, Align::left},
                     {words.text("model.half_width", {{"coverage", numbers.percent(content.coverage())}}), 60,
                      Align::left},
                     {words.text("model.chi2"), 44, Align::number},
                     {words.text("model.dof"), 48, Align::centre},
                     {words.text("model.limit"), 46, Align::number},
                     {words.text("model.agrees"), 52, Align::centre},
                     {words.text("model.residual"), 50, Align::number}};
    for (const calib::RateCandidate& candidate : model->candidates) {
        const std::string form = words.text("model." + calib::name_of(candidate.form));
        const bool used = candidate.form == model->chosen;
        const bool tested = candidate.dof > 0.5;
        const ParameterWords parameters = parameters_words(content, candidate);
        double residual = 0;
        for (double value : candidate.residual_percent)
            if (std::abs(value) > std::abs(residual)) residual = value;
        table.rows.push_back(
            {{used ? words.text("model.chosen_mark", {{"form", form}}) : form,
              words.text("model.equation_" + calib::name_of(candidate.form)), parameters.estimates,
              parameters.half_widths, numbers.fixed(candidate.chi2, candidate.chi2 < 1000 ? 2 : 0),
              numbers.fixed(candidate.dof, 0), tested ? numbers.fixed(candidate.chi2_limit, 2) : "–",
              words.text(!tested            ? "model.untested"
                         : candidate.passes ? "model.yes"
                                            : "model.no"),
              numbers.fixed(residual, 2)},
             used});
    }
    draw_table(flow, table, words.decimal_sign());
    flow.paragraph(conclusion(content, *model));
}

}  // namespace tipwright::report::certificate
