// Validation of the steps' budgets by Monte Carlo (JCGM 101:2008, clause 8).
#include <algorithm>

#include "calib/base/rounding.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"

namespace tipwright::report::certificate {

void draw_monte_carlo(Content& content) {
    const auto& checks = content.record.evaluation.monte_carlo;
    if (checks.empty()) return;
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    std::vector<std::string> refused;
    for (const calib::MonteCarloCheck& check : checks)
        if (!check.error_percent.validation.valid) refused.push_back(std::to_string(check.step));
    const std::string digits = std::to_string(checks.front().significant_digits);
    if (refused.empty()) {
        flow.paragraph(words.text("monte_carlo.confirmed", {{"digits", digits}}));
    } else {
        std::string said =
            refused.size() == 1
                ? words.text("monte_carlo.refused_one", {{"digits", digits}, {"step", refused.front()}})
                : words.text("monte_carlo.refused", {{"digits", digits}, {"steps", words.list(refused)}});
        // Of steps of which nothing is stated no check is shown: nothing is said of them here either.
        if (refused.size() < checks.size()) said += " " + words.text("monte_carlo.others_confirmed");
        flow.paragraph(said);
    }
    Table table;
    table.caption = words.text("monte_carlo.table", {{"coverage", numbers.percent(content.coverage())},
                                                     {"seed", std::to_string(checks.front().seed)}});
    table.caption_style = small_style;
    table.columns = {{words.text("results.step"), 30, Align::centre},
                     {words.text("monte_carlo.trials"), 46, Align::number},
                     {words.text("monte_carlo.mean"), 46, Align::number},
                     {words.text("monte_carlo.u"), 46, Align::number},
                     {words.text("monte_carlo.symmetric"), 90, Align::centre},
                     {words.text("monte_carlo.shortest"), 90, Align::centre},
                     {words.text("monte_carlo.differences"), 80, Align::centre},
                     {words.text("monte_carlo.tolerance"), 60, Align::centre},
                     {words.text("monte_carlo.verdict"), 60, Align::centre}};
    for (const calib::MonteCarloCheck& check : checks) {
        const calib::MonteCarloFigures& e = check.error_percent;
        // One figure more than the tolerance asks for: what is compared must be seen.
        const int decimals = calib::decimals_earned(e.u) + 1;
        const auto range = [&](const calib::Interval& interval) {
            return words.text("format.range", {{"low", numbers.fixed(interval.low, decimals)},
                                               {"high", numbers.fixed(interval.high, decimals)}});
        };
        const char* verdict = !e.validation.valid ? "monte_carlo.no"
                              : check.stable      ? "monte_carlo.yes"
                                                  : "monte_carlo.unstable";
        table.rows.push_back(
            {{std::to_string(check.step), std::to_string(check.trials), numbers.fixed(e.mean, decimals),
              numbers.fixed(e.u, decimals), range(e.symmetric), range(e.shortest),
              numbers.fixed(e.validation.d_low, decimals) + " / " +
                  numbers.fixed(e.validation.d_high, decimals),
              numbers.significant(e.validation.tolerance, 2), words.text(verdict)}});
    }
    draw_table(flow, table, words.decimal_sign());
}

}  // namespace tipwright::report::certificate
