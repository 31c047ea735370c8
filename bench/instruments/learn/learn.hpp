// Learn: a draft of a profile out of what a balance sends while somebody does known things with it. For
// balances that send lines of text, by themselves or when asked. Pure: bytes and what was done in, text out.
// Every line of the draft says why it stands there; what the bytes do not decide is a doubt to ask about,
// never a guess passed off as known. Faults: no_answer (nothing came), garbled_answer (no lines, or no number
// that follows the mass).
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bench/links/serial_settings.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

enum class Situation { empty, known_mass, moving, overload };

struct TimedBytes {
    double time_s = 0;
    std::string bytes;
};

// What came while one thing was done. The pan may carry a vessel: the known mass is what was added.
struct Watched {
    Situation situation{};
    std::vector<TimedBytes> pieces;
};

struct LearnRequest {
    std::string title;
    double mass_g = 0;     // the known mass
    std::string question;  // as a profile writes it, without line ending; empty: it prints by itself
    std::string question_ending = "CR";  // CR, LF, CRLF, none
    SerialSettings serial;
    std::optional<std::size_t>
        number;  // of a line, from 0: which is the mass; none: the first that rises by it
};

struct ProfileDraft {
    std::string toml;
    std::vector<std::string> doubts;   // sentences, each a question to the person
    std::vector<std::size_t> numbers;  // of a line, from 0: that rise by the mass
    std::string example;               // a line that holds them
    std::size_t lines = 0;             // that came whole
    std::size_t understood = 0;        // of them, by the draft
};

Result<ProfileDraft> learn_balance(std::span<const Watched> watched, const LearnRequest& request);

}  // namespace tipwright::bench
