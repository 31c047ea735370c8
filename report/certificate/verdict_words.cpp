#include "report/certificate/verdict_words.hpp"

#include <algorithm>

namespace tipwright::report::certificate {

namespace {

using calib::Claim;
using calib::Verdict;

bool is_given(Verdict verdict) {
    return verdict == Verdict::pass || verdict == Verdict::fail || verdict == Verdict::undecided;
}

const char* step_key(Verdict verdict) {
    switch (verdict) {
        case Verdict::pass:
            return "verdict.pass";
        case Verdict::fail:
            return "verdict.fail";
        case Verdict::undecided:
            return "verdict.undecided";
        case Verdict::not_stated:
            return "reservation.not_stated";
        case Verdict::no_limit:
            break;
    }
    return "verdict.no_limit";
}

const char* sentence_key(Verdict verdict) {
    switch (verdict) {
        case Verdict::pass:
            return "conformity.overall_pass";
        case Verdict::fail:
            return "conformity.overall_fail";
        case Verdict::not_stated:
            return "reservation.no_verdict";
        case Verdict::undecided:
        case Verdict::no_limit:
            break;
    }
    return "conformity.overall_undecided";
}

}  // namespace

bool is_static_check(const Record& record) {
    const auto& steps = record.evaluation.steps;
    return !std::all_of(steps.begin(), steps.end(), [](const calib::StepResult& step) {
        return step.reference_intensity_mm_h && step.flow_mL_min && step.indicated_intensity_mm_h;
    });
}

std::string overall_verdict(const Words& words, Verdict overall, Claim claim, bool is_static) {
    if (!is_given(overall)) return {};
    const std::string& verdict = words.text(overall == Verdict::fail        ? "summary.verdict_fail"
                                            : overall == Verdict::undecided ? "summary.verdict_undecided"
                                            : is_static                     ? "summary.verdict_static_pass"
                                                                            : "summary.verdict_pass");
    return claim == Claim::reserved ? words.text("reservation.verdict", {{"verdict", verdict}}) : verdict;
}

std::string overall_verdict(const Words& words, const Record& record) {
    return overall_verdict(words, record.evaluation.conformity.overall, record.statement.verdict,
                           is_static_check(record));
}

std::string overall_verdict_sentence(const Words& words, const Record& record) {
    const Verdict overall = record.evaluation.conformity.overall;
    const std::string& sentence = words.text(sentence_key(overall));
    if (!is_given(overall) || record.statement.verdict != Claim::reserved) return sentence;
    return words.text("reservation.verdict", {{"verdict", without_full_stop(sentence)}}) + ".";
}

bool is_verdict_reserved(const Record& record, int step) {
    const calib::StepStatement* stated = record.statement.of_step(step);
    return stated != nullptr && stated->verdict == Claim::reserved;
}

std::string step_verdict(const Words& words, const Record& record, int step, Verdict verdict) {
    return words.text(step_key(verdict)) +
           (is_given(verdict) && is_verdict_reserved(record, step) ? "*" : "");
}

std::string starred_note(const Words& words, const Record& record) {
    const auto& judged = record.evaluation.conformity.steps;
    const bool any = std::any_of(judged.begin(), judged.end(), [&](const calib::StepConformity& row) {
        return is_given(row.verdict) && is_verdict_reserved(record, row.step);
    });
    return any ? words.text("reservation.starred") : std::string();
}

std::string verdict_cell(const Record& record, int step, Verdict verdict) {
    return std::string(name_of(verdict)) +
           (is_given(verdict) && is_verdict_reserved(record, step) ? "_reserved" : "");
}

}  // namespace tipwright::report::certificate
