#include "report/certificate/acceptance_words.hpp"

#include "report/certificate/numbers.hpp"

namespace tipwright::report::certificate {

std::string acceptance_words(const Words& words, const Acceptance& acceptance) {
    std::string instrument = words.named("role", acceptance.role, acceptance.role);
    // It begins a sentence. A role with other than an ASCII letter in front stays as it is written.
    if (!instrument.empty() && instrument[0] >= 'a' && instrument[0] <= 'z')
        instrument[0] = static_cast<char>(instrument[0] - 'a' + 'A');
    if (!acceptance.serial.empty()) instrument += " (" + acceptance.serial + ")";
    const std::string reason =
        acceptance.reason.empty() ? words.text("method.no_reason") : without_full_stop(acceptance.reason);
    if (acceptance.lack == Lack::calibration_overdue)
        return words.text(
            "method.overdue",
            {{"instrument", instrument}, {"date", words.date(acceptance.since)}, {"reason", reason}});
    const Numbers numbers(words);
    return words.text("method.check_failed",
                      {{"instrument", instrument},
                       {"date", words.date(acceptance.since)},
                       {"error", numbers.significant(acceptance.error_g.value_or(0), 3)},
                       {"mass", numbers.significant(acceptance.mass_g.value_or(0), 6)},
                       {"reason", reason}});
}

}  // namespace tipwright::report::certificate
