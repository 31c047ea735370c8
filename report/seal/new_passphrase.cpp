#include "report/seal/new_passphrase.hpp"

#include "report/seal/keys.hpp"

namespace tipwright::seal {

Outcome check_new_passphrase(const Passphrase& passphrase, const std::vector<std::string>& names) {
    const std::size_t size = passphrase.text().size();
    if (size < min_passphrase_bytes || size > max_passphrase_bytes)
        return Fault{FaultCode::bad_value,
                     "the passphrase has " + std::to_string(size) + " bytes, must have " +
                         std::to_string(min_passphrase_bytes) + " to " + std::to_string(max_passphrase_bytes),
                     "passphrase", "use a longer one, of several words"};
    if (easily_guessed(passphrase.text(), names))
        return Fault{
            FaultCode::bad_value,
            "the passphrase is guessed at once: it repeats itself, counts up, or is tried first, as names "
            "are",
            "passphrase", "take four or five words that do not belong together"};
    return Done{};
}

}  // namespace tipwright::seal
