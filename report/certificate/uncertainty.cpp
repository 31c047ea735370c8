// The uncertainty statement and the budget of the worst step.
#include <algorithm>
#include <cmath>
#include <optional>

#include "calib/base/rounding.hpp"
#include "report/certificate/facts_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"

namespace tipwright::report::certificate {

namespace {

using calib::BudgetComponent;
using calib::StepResult;

std::string distribution_word(const Words& words, calib::Distribution distribution) {
    switch (distribution) {
        case calib::Distribution::normal:
            return words.text("uncertainty.normal");
        case calib::Distribution::rectangular:
            return words.text("uncertainty.rectangular");
        case calib::Distribution::triangular:
            return words.text("uncertainty.triangular");
        case calib::Distribution::student:
            break;
    }
    return words.text("uncertainty.student");
}

// Of a balance the record keeps what it is known by: its step, its standard deviation, its limit of
// linearity. What is estimated is the deviation itself, for which nothing is corrected.
double estimate_of(const BudgetComponent& component) {
    const bool known_by = component.id == "balance_resolution" || component.id == "balance_repeatability" ||
                          component.id == "balance_linearity";
    return known_by ? 0 : component.value;
}

// JCGM 100:2008, 4.3.7 and 4.3.9. Nothing: the distribution has none.
std::optional<double> half_width_of(const BudgetComponent& component) {
    if (component.distribution == calib::Distribution::rectangular) return component.u * std::sqrt(3.0);
    if (component.distribution == calib::Distribution::triangular) return component.u * std::sqrt(6.0);
    return std::nullopt;
}

// A number in figures a table can hold: 0.0115, 1.2·10⁻⁵. Without zeros at its end when it is a setting that
// has no uncertainty of its own, like a resolution.
std::string compact(const Numbers& numbers, double value, int figures, bool exact = false) {
    const double size = std::abs(value);
    if (size == 0 || (size >= 0.001 && size < 1e5))
        return exact ? numbers.significant(value, figures) : numbers.figures(value, figures);
    const int exponent = static_cast<int>(std::floor(std::log10(size)));
    const std::string digits = std::to_string(exponent);
    std::string raised;
    constexpr const char* superscripts[] = {"⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"};
    for (char c : digits) raised += c == '-' ? "⁻" : superscripts[c - '0'];
    return numbers.figures(value / std::pow(10, exponent), figures) + "·10" + raised;
}

Table budget_table(const Content& content, const StepResult& step) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    Table table;
    table.columns = {{words.text("uncertainty.component"), 152, Align::left},
                     {words.text("uncertainty.estimate"), 42, Align::centre},
                     {words.text("uncertainty.half_width"), 42, Align::centre},
                     {words.text("uncertainty.u"), 40, Align::centre},
                     {words.text("uncertainty.unit"), 32, Align::centre},
                     {words.text("uncertainty.distribution"), 52, Align::centre},
                     {words.text("uncertainty.dof"), 40, Align::centre},
                     {words.text("uncertainty.sensitivity"), 50, Align::centre},
                     {words.text("uncertainty.contribution"), 50, Align::number},
                     {words.text("uncertainty.share"), 34, Align::number}};
    // e is 100 (A h / v - 1): a relative change of 1 + e is one of e in per cent by this.
    const double scale = 100 + step.error_percent.value;
    double total = 0;
    std::vector<const BudgetComponent*> sorted;
    for (const BudgetComponent& component : step.budget) {
        total += std::pow(scale * component.relative_to_e() * component.u, 2);
        if (component.relative_to_e() != 0) sorted.push_back(&component);
    }
    // Largest first: what an assessor looks for.
    std::stable_sort(sorted.begin(), sorted.end(), [](const BudgetComponent* a, const BudgetComponent* b) {
        return std::abs(a->relative_to_e() * a->u) > std::abs(b->relative_to_e() * b->u);
    });
    for (const BudgetComponent* component : sorted) {
        const double sensitivity = scale * component->relative_to_e();
        const double contribution = std::abs(sensitivity) * component->u;
        const double estimate = estimate_of(*component);
        const auto half_width = half_width_of(*component);
        table.rows.push_back(
            {{words.named("component", component->id, component->label),
              estimate == 0 ? numbers.fixed(0, 0) : compact(numbers, estimate, 4, true),
              half_width ? compact(numbers, *half_width, 2) : "–", compact(numbers, component->u, 2),
              component->unit, distribution_word(words, component->distribution), numbers.dof(component->dof),
              compact(numbers, sensitivity, 3), numbers.fixed(contribution, 4),
              numbers.fixed(total > 0 ? 100 * contribution * contribution / total : 0, 1)}});
    }
    table.rows.push_back(
        {{words.text("uncertainty.combined"), "", "", "", "%", "", numbers.dof(step.error_percent.dof), "",
          numbers.fixed(step.error_percent.u, 4), ""},
         true,
         true});
    table.rows.push_back(
        {{words.text("uncertainty.expanded", {{"k", numbers.fixed(step.error_expanded.k, 2)}}), "", "", "",
          "%", "", "", "", words.number(calib::round_with_uncertainty(0, step.error_expanded.U).uncertainty),
          ""},
         true});
    return table;
}

std::string budget_caption(const Content& content, const StepResult& step, const std::string& key) {
    const std::string number = std::to_string(step.observation.step);
    if (!step.reference_intensity_mm_h) return content.words.text(key + "_static", {{"step", number}});
    return content.words.text(
        key, {{"step", number},
              {"intensity", content.numbers.significant(step.reference_intensity_mm_h->value, 4)}});
}

bool has_component(const StepResult& step, std::string_view id) {
    return std::any_of(step.budget.begin(), step.budget.end(),
                       [&](const BudgetComponent& component) { return component.id == id; });
}

}  // namespace

void draw_uncertainty(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    flow.heading(words.text("uncertainty.heading"));
    const auto& checks = content.record.evaluation.monte_carlo;
    const bool interval_stated = std::any_of(checks.begin(), checks.end(), [](const auto& check) {
        return !check.error_percent.validation.valid;
    });
    flow.paragraph(
        words.text("uncertainty.statement", {{"coverage", content.numbers.percent(content.coverage())}}) +
        (interval_stated ? " " + words.text("uncertainty.interval") : ""));
    // Else a reader wonders how e can be better known than the intensity it is told for.
    const auto& all = content.record.evaluation.steps;
    const bool held_water = std::any_of(
        all.begin(), all.end(), [](const StepResult& step) { return has_component(step, "siphon_storage"); });
    if (held_water) flow.paragraph(words.text("uncertainty.held_water"));
    if (const std::string capability = capability_words(words, content.record); !capability.empty())
        flow.paragraph(capability);
    bool siphons = false;
    const auto draw = [&](const StepResult& step, const std::string& caption) {
        Table table = budget_table(content, step);
        table.caption = caption;
        draw_table(flow, table, words.decimal_sign());
        siphons = siphons || has_component(step, "tip_scatter_siphon");
    };
    if (content.options.budgets == Budgets::every_step) {
        for (const Record* state : content.states())
            for (const StepResult& step : state->evaluation.steps)
                draw(step,
                     content.of_state(*state, budget_caption(content, step, "uncertainty.budget_step")));
    } else {
        const auto& steps = content.record.evaluation.steps;
        const auto worst = std::max_element(
            steps.begin(), steps.end(),
            [](const StepResult& a, const StepResult& b) { return a.error_expanded.U < b.error_expanded.U; });
        draw(*worst, budget_caption(content, *worst, "uncertainty.budget"));
    }
    if (siphons)
        flow.paragraph(
            words.text("uncertainty.siphon",
                       {{"tail", content.numbers.significant(content.record.gauge.siphon_tail_percent, 3)}}),
            small_style);
}

}  // namespace tipwright::report::certificate
