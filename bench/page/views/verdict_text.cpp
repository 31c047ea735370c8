#include "bench/page/views/verdict_text.hpp"

#include "report/certificate/finding_words.hpp"
#include "report/certificate/verdict_words.hpp"

namespace tipwright::page {

std::string verdict_text(const CameOut& out, const PageWords& words) {
    const std::string given =
        report::certificate::overall_verdict(words.certificate(), out.verdict, out.claim, out.is_static);
    switch (out.verdict) {
        case calib::Verdict::pass:
            return "✔ " + given;
        case calib::Verdict::fail:
            return "✘ " + given;
        case calib::Verdict::undecided:
            return "? " + given;
        case calib::Verdict::not_stated:
            return "– " + words.certificate().text("reservation.no_verdict");
        case calib::Verdict::no_limit:
            break;
    }
    return "– " + words.text("verdict.no_limit");
}

std::string reservations_text(const CameOut& out, const PageWords& words) {
    std::string text;
    for (const std::string& sentence : report::certificate::reservation_sentences(
             words.certificate(), out.reservations, out.steps_finished, out.steps_planned))
        text += "\n" + sentence + (sentence.ends_with('.') ? "" : ".");
    return text;
}

}  // namespace tipwright::page
