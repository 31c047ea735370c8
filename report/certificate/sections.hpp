// Sections of the certificate, each drawn at the flow's place: first what everybody wants and a certificate
// must state, then the annex. Internal to report/certificate/.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "report/certificate/certificate.hpp"
#include "report/certificate/chart.hpp"
#include "report/certificate/flow.hpp"
#include "report/certificate/numbers.hpp"

namespace tipwright::report::certificate {

// Of the second page: what a certificate must state besides its results belongs on one, and the annex after
// it.
inline constexpr Style stated_style{Face::regular, 8.0, black};

// The section that gives the correction: the annex begins with it.
inline constexpr const char* correction_section = "A.1";

// What is to be shown, in which words.
struct Facts {
    const Record& record;
    const CertificateOptions& options;
    const Words& words;
    Numbers numbers;

    const Record* as_found() const { return options.as_found ? &*options.as_found : nullptr; }
    // As found first, when it is there.
    std::vector<const Record*> states() const;
    std::string state_word(State state) const;
    std::string state_word(const Record& which) const { return state_word(which.state); }
    // Says whose it is, where two states are shown.
    std::string of_state(const Record& which, const std::string& text) const;
    // What is said of each state: once where it is the same of both, else a line each. Empty ones are left
    // out.
    std::string by_state(const std::function<std::string(const Record&)>& said) const;
    bool is_static() const;
    bool has_charts() const;
    double coverage() const { return record.plan.coverage; }
};

struct Content : Facts {
    Flow& flow;
    std::string record_sha256;    // of the attached record
    std::string as_found_sha256;  // of that as found; empty: none is attached
};

// Sentences of the front page, also for other papers.
std::vector<std::string> summary_sentences(const Content& content);
// "class B, ±5 %" or "class B" when the limits differ from row to row.
std::string limits_words(const Facts& content, const calib::Limits& limits);
// Width of the guard band, with its mark (text_block.hpp): "‹U›", "0.83 ‹U›".
std::string guard_band_words(const Words& words, const calib::Conformity& conformity);
// Marks that tell what the document is not; `shortened` for the running head.
std::vector<std::string> marks(const Content& content, bool shortened);

Outcome draw_front(Content& content);
void draw_summary(Content& content);
// The table of each state: how it leaves, or the only one, before the chart of both; what it was before after
// it.
void draw_results_as_it_leaves(Content& content);
void draw_results_as_found(Content& content);
// The chart of errors: one on which bars and limits are told apart; and the lowest, whose axis can still be
// read.
inline constexpr double good_error_chart = 140;
inline constexpr double lowest_error_chart = 96;
// Is there room for one of that height where the flow stands? A document without charts needs none.
bool has_room_for_error_chart(const Content& content, double height);
// Runs of the steps of one record; nothing when none was repeated.
void draw_repeats(Content& content, const Record& record);
void draw_error_chart(Content& content);
// What a chart shows, for who cannot see it: title, axes, and each series from its first point to its last.
std::string words_of(const Facts& content, const std::string& title, const Chart& chart);
// What is left of the annex's charts: departures from the fit, volume per tip.
void draw_charts(Content& content);
// What each contact counted and each compartment held, and the runs of repeated steps.
void draw_details(Content& content);
void draw_correction(Content& content);
void draw_conditions(Content& content);
void draw_instruments(Content& content);
// Which one, and what deviated from it.
void draw_method(Content& content);
// How each collect was made and evaluated, with its equations.
void draw_method_in_detail(Content& content);
// The errors of earlier calibrations over those of this one; nothing when none is known.
void draw_history(Content& content);
void draw_uncertainty(Content& content);
void draw_monte_carlo(Content& content);
void draw_models(Content& content);
void draw_conformity(Content& content);
// Probabilities of each step.
void draw_conformity_steps(Content& content);
void draw_closing(Content& content);
void draw_end_mark(Content& content);
// Running head and foot, when all pages are there.
void draw_heads_and_feet(Content& content);

}  // namespace tipwright::report::certificate
