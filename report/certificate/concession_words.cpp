#include "report/certificate/concession_words.hpp"

#include "report/certificate/numbers.hpp"

namespace tipwright::report::certificate {

std::string concession_words(const Words& words, const Concession& concession) {
    std::string instrument = words.named("role", concession.role, concession.role);
    // It begins a sentence. A role with other than an ASCII letter in front stays as it is written.
    if (!instrument.empty() && instrument[0] >= 'a' && instrument[0] <= 'z')
        instrument[0] = static_cast<char>(instrument[0] - 'a' + 'A');
    if (!concession.serial.empty()) instrument += " (" + concession.serial + ")";
    const std::string reason =
        concession.reason.empty() ? words.text("method.no_reason") : without_full_stop(concession.reason);
    if (concession.nonconformity == Nonconformity::calibration_overdue)
        return words.text(
            "method.overdue",
            {{"instrument", instrument}, {"date", words.date(concession.since)}, {"reason", reason}});
    const Numbers numbers(words);
    return words.text("method.check_failed",
                      {{"instrument", instrument},
                       {"date", words.date(concession.since)},
                       {"error", numbers.significant(concession.error_g.value_or(0), 3)},
                       {"mass", numbers.significant(concession.mass_g.value_or(0), 6)},
                       {"reason", reason}});
}

}  // namespace tipwright::report::certificate
