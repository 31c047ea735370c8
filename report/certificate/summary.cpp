// The result in one or two sentences, for somebody who has a gauge and no laboratory.
#include <algorithm>
#include <cmath>
#include <map>
#include <sstream>

#include "calib/base/rounding.hpp"
#include "report/certificate/correction_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/text_block.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/tables/column_decimals.hpp"

namespace tipwright::report::certificate {

namespace {

using calib::StepResult;
using calib::Verdict;

struct Extremes {
    const StepResult& lowest;
    const StepResult& highest;
};

Extremes extremes_of(const Record& record) {
    const auto& steps = record.evaluation.steps;
    const auto lower = [](const StepResult& a, const StepResult& b) {
        return a.error_percent.value < b.error_percent.value;
    };
    return {*std::min_element(steps.begin(), steps.end(), lower),
            *std::max_element(steps.begin(), steps.end(), lower)};
}

// As the table below prints it, but never to more than two decimals: a sentence is no table.
std::string signed_of(const Content& content, const StepResult& step) {
    constexpr int most_decimals = 2;
    const StepDecimals table = decimals_of(content.record.evaluation.steps, content.coverage());
    return content.numbers.fixed(step.error_percent.value, std::min(table.error, most_decimals));
}

// Both ends of a range say their sign, as the other sentences' words do.
std::string with_sign(const Content& content, const StepResult& step) {
    const std::string text = signed_of(content, step);
    return step.error_percent.value > 0 && text.find_first_of("123456789") != std::string::npos ? "+" + text
                                                                                                : text;
}

// The size of an error without its sign.
std::string size_of(const Content& content, const StepResult& step) {
    StepResult positive;
    positive.error_percent.value = std::abs(step.error_percent.value);
    positive.error_expanded = step.error_expanded;
    return signed_of(content, positive);
}

std::string rounded_intensity(const Content& content, double intensity) {
    return content.numbers.significant(intensity, 3);
}

// The intensity a step is known by: the one that was set, else the one that came.
double known_as(const StepResult& step) {
    if (step.observation.set_intensity_mm_h > 0) return step.observation.set_intensity_mm_h;
    return step.reference_intensity_mm_h ? step.reference_intensity_mm_h->value : 0;
}

double came_as(const StepResult& step) {
    return step.reference_intensity_mm_h ? step.reference_intensity_mm_h->value : known_as(step);
}

std::string static_error(const Content& content, const Extremes& extremes, std::size_t steps) {
    const Words& words = content.words;
    if (steps == 1)
        return words.text(
            extremes.lowest.error_percent.value < 0 ? "summary.static_low" : "summary.static_high",
            {{"size", size_of(content, extremes.lowest)}});
    return words.text("summary.static_range", {{"low", with_sign(content, extremes.lowest)},
                                               {"high", with_sign(content, extremes.highest)}});
}

std::string error_sentence(const Content& content) {
    const Words& words = content.words;
    const auto& steps = content.record.evaluation.steps;
    const Extremes extremes = extremes_of(content.record);
    if (content.is_static()) return static_error(content, extremes, steps.size());
    const double low = extremes.lowest.error_percent.value;
    const double high = extremes.highest.error_percent.value;
    if (steps.size() == 1)
        return words.text(low < 0 ? "summary.one_low" : "summary.one_high",
                          {{"at", rounded_intensity(content, known_as(steps.front()))},
                           {"size", size_of(content, steps.front())}});
    const auto [first, last] = std::minmax_element(
        steps.begin(), steps.end(),
        [](const StepResult& a, const StepResult& b) { return known_as(a) < known_as(b); });
    // What came, not what was asked for: beyond it nothing is stated.
    const std::string from = rounded_intensity(content, came_as(*first));
    const std::string to = rounded_intensity(content, came_as(*last));
    if (high < 0)
        return words.text("summary.both_low", {{"from", from},
                                               {"to", to},
                                               {"least", size_of(content, extremes.highest)},
                                               {"most", size_of(content, extremes.lowest)}});
    if (low >= 0)
        return words.text("summary.both_high", {{"from", from},
                                                {"to", to},
                                                {"least", size_of(content, extremes.lowest)},
                                                {"most", size_of(content, extremes.highest)}});
    return words.text("summary.mixed", {{"from", from},
                                        {"to", to},
                                        {"low", size_of(content, extremes.lowest)},
                                        {"high", size_of(content, extremes.highest)}});
}

// "50, 90 and 200 mm/h", or step numbers for a static check.
std::string where(const Content& content, Verdict verdict) {
    std::multimap<double, std::string> ascending;  // in whatever order the steps were run
    for (const calib::StepConformity& judged : content.record.evaluation.conformity.steps) {
        if (judged.verdict != verdict) continue;
        double place = judged.step;
        std::string item = std::to_string(judged.step);
        if (!content.is_static())
            for (const StepResult& step : content.record.evaluation.steps)
                if (step.observation.step == judged.step) {
                    place = known_as(step);
                    item = rounded_intensity(content, place);
                }
        ascending.emplace(place, item);
    }
    std::vector<std::string> items;
    for (const auto& [place, item] : ascending) items.push_back(item);
    const std::string list = content.words.list(items);
    return content.is_static() || list.empty() ? list
                                               : content.words.text("summary.intensities", {{"list", list}});
}

void add_conformity(const Content& content, std::vector<std::string>& sentences) {
    const Words& words = content.words;
    const calib::Conformity& conformity = content.record.evaluation.conformity;
    if (conformity.overall == Verdict::no_limit) {
        sentences.push_back(words.text("summary.no_limits"));
        return;
    }
    const std::string limits = limits_words(content, conformity.limits);
    const std::string failing = where(content, Verdict::fail);
    const std::string open = where(content, Verdict::undecided);
    const std::string unlimited = where(content, Verdict::no_limit);
    const bool is_static = content.is_static();
    if (!failing.empty())
        sentences.push_back(words.text(is_static ? "summary.fail_static" : "summary.fail",
                                       {{"limits", limits}, {"where", failing}}));
    if (!open.empty())
        sentences.push_back(words.text(is_static ? "summary.undecided_static" : "summary.undecided",
                                       {{"limits", limits}, {"where", open}}));
    if (conformity.overall == Verdict::not_stated)
        sentences.push_back(words.text("reservation.no_verdict"));
    else if (failing.empty() && open.empty())
        sentences.push_back(
            words.text(is_static ? "summary.static_pass" : "summary.pass", {{"limits", limits}}));
    if (!unlimited.empty() && !is_static)
        sentences.push_back(words.text("summary.some_without_limit", {{"where", unlimited}}));
}

void add_correction(const Content& content, std::vector<std::string>& sentences) {
    const auto& correction = content.record.evaluation.correction;
    if (content.record.evaluation.no_correction == calib::NoCorrection::steps_doubted) {
        sentences.push_back(content.words.text("reservation.no_correction"));
        return;
    }
    if (!correction || correction->rows.empty()) {
        sentences.push_back(content.words.text("summary.no_correction"));
        return;
    }
    const auto& model = content.record.evaluation.model;
    if (model && model->chosen_candidate() == nullptr)
        sentences.push_back(content.words.text("summary.no_form"));
    double largest = 0;
    for (const calib::CorrectionRow& row : correction->rows)
        largest = std::max(largest, 100 * row.factor_U / row.factor);
    // "At most" is not rounded down.
    const double last_digit = largest > 0 ? std::pow(10, std::floor(std::log10(largest)) - 1) : 1;
    const std::string U = content.numbers.figures(std::ceil(largest / last_digit - 1e-9) * last_digit, 2);
    sentences.push_back(
        content.words.text("summary.correction", {{"section", correction_section}, {"U", U}}));
}

constexpr Style formula_style{Face::bold, 8.8, black};
constexpr double formula_indent = 14;

// A line that has room for the next one takes it: the chart of these results belongs on this page too.
std::string on_fewer_lines(Flow& flow, const std::string& text) {
    std::string out;
    std::string last;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        std::string both = last + " ";
        both += line;
        const bool first_formula = out.empty();  // it stands by itself
        if (!last.empty() && !first_formula &&
            flow.canvas().text_width(without_marks(both), formula_style) < flow.width() - formula_indent) {
            last = both;
            continue;
        }
        if (!last.empty()) out += last + "\n";
        last = line;
    }
    return out + last;
}

}  // namespace

std::string limits_words(const Facts& content, const calib::Limits& limits) {
    std::string name = content.words.named("translated", limits.name, limits.name);
    if (limits.rows.empty()) return name;
    const calib::LimitRow& first = limits.rows.front();
    const bool same = std::all_of(limits.rows.begin(), limits.rows.end(), [&](const calib::LimitRow& row) {
        return row.low_percent == first.low_percent && row.high_percent == first.high_percent;
    });
    if (!same) return name;
    const std::string high = content.numbers.significant(first.high_percent, 4);
    const std::string span = first.low_percent == -first.high_percent
                                 ? "±" + high + " %"
                                 : content.numbers.significant(first.low_percent, 4) + " % / " + high + " %";
    return name.empty() ? span : name + content.words.text("format.list_comma") + span;
}

std::vector<std::string> summary_sentences(const Content& content) {
    std::vector<std::string> sentences{error_sentence(content)};
    add_conformity(content, sentences);
    if (const Record* before = content.as_found()) {
        const Extremes extremes = extremes_of(*before);
        sentences.push_back(content.words.text(
            "summary.before",
            {{"low", with_sign(content, extremes.lowest)}, {"high", with_sign(content, extremes.highest)}}));
    }
    add_correction(content, sentences);
    if (const std::optional<calib::LargestDrift>& drift = content.options.drift) {
        const Numbers& numbers = content.numbers;
        sentences.push_back(
            content.words.text(std::abs(drift->En) > 1 ? "summary.drift" : "summary.drift_within",
                               {{"since", content.words.date(drift->since)},
                                {"moved", numbers.fixed(drift->percent, 2)},
                                {"at", rounded_intensity(content, drift->at_mm_h)},
                                {"En", numbers.fixed(drift->En, 2)}}));
    }
    return sentences;
}

void draw_summary(Content& content) {
    Flow& flow = content.flow;
    flow.heading(content.words.text("summary.heading"));
    const std::string verdict = overall_verdict(content.words, content.record);
    if (!verdict.empty()) flow.paragraph(verdict, {Face::bold, 10.4, black});
    std::string text;
    for (const std::string& sentence : summary_sentences(content))
        text += (text.empty() ? "" : " ") + sentence;
    flow.paragraph(text, {Face::regular, 8.7, black});
    if (const std::string formula = correction_formula(content.record, content.words); !formula.empty())
        flow.paragraph(on_fewer_lines(flow, formula), formula_style, formula_indent);
}

}  // namespace tipwright::report::certificate
