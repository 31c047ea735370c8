// Recognise: whether an instrument speaks a profile that is there already. Pure: what may be asked, and what
// an answer is worth. Only questions: nothing is set, started or stopped by them.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

struct ProfileQuestion {
    std::string bytes;  // as they go over the link
    double wait_s = 1;  // longest wait for the answer
};

// A reading; of a pump who it is. Nothing: what speaks by itself, or cannot be asked by bytes.
std::optional<ProfileQuestion> question_of(const InstrumentProfile& profile);

struct ProfileFit {
    std::size_t understood = 0;
    std::size_t not_understood = 0;
    // Everything that came, and enough of it.
    bool whole(std::size_t at_least = 1) const { return understood >= at_least && not_understood == 0; }
};

// What the profile makes of an answer to its question; or, `asked` empty, of what came unasked: the first
// line may have begun before anybody looked. Readings, and a pump's identity, alone count.
ProfileFit fit_of(const InstrumentProfile& profile, std::string_view asked, std::string_view came);

}  // namespace tipwright::bench
