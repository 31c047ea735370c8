// Sessions: who is logged in, by the word in a browser's cookie. Kept in memory alone: they end with the
// page, after half an hour without a request, and after a working day. May be asked from any thread.
#pragma once

#include <chrono>
#include <deque>
#include <map>
#include <mutex>
#include <optional>
#include <string>

#include "report/register/actor.hpp"

namespace tipwright::page {

class Sessions {
public:
    using Time = std::chrono::steady_clock::time_point;
    static constexpr std::chrono::minutes idle{30};
    static constexpr std::chrono::hours longest{10};
    static constexpr std::size_t most = 64;
    // Wrong passphrases from one device before it has to wait, whoever's they were.
    static constexpr std::size_t wrong_allowed = 10;
    static constexpr std::chrono::minutes wrong_within{10};

    // The word for the cookie. Nobody's session is taken over by a word that was there before.
    std::string open(const report::Actor& actor, Time now);
    std::optional<report::Actor> find(const std::string& word, Time now);
    void close(const std::string& word);

    bool may_try(const std::string& device, Time now);
    void tried_wrong(const std::string& device, Time now);

private:
    struct Entry {
        report::Actor actor;
        Time begun;
        Time seen;
    };
    void forget_old(Time now);

    std::mutex mutex_;
    std::map<std::string, Entry> entries_;
    std::map<std::string, std::deque<Time>> wrong_;
};

// As long as can be guessed by nobody. Needs sodium_init().
std::string unguessable_word();

}  // namespace tipwright::page
