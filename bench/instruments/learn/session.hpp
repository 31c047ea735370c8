// Learning session: looks at the bytes of a link while a person does what is asked, and makes a profile: one
// of those that are there, if the instrument speaks it, else a draft learned from what a balance sends. Only
// questions are sent, those of profiles and those of the request. Prints nothing: the person is an interface.
// Faults: no_answer (nothing came, or the person went away), garbled_answer, link_lost, those of
// learn_balance.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/clock/clock.hpp"
#include "bench/instruments/learn/learn.hpp"
#include "bench/instruments/profile.hpp"
#include "bench/instruments/unguarded_right.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

class LearnPerson {
public:
    virtual ~LearnPerson() = default;
    virtual void say(const std::string& text) = 0;
    // One line; nothing once there is nobody any more.
    virtual Task<std::optional<std::string>> answer() = 0;
};

struct LearnPlan {
    std::optional<Role> role;              // none: the person is asked
    std::vector<InstrumentProfile> known;  // that may fit; their text carries their name
    LearnRequest request;                  // mass_g 0: the person is asked
    std::optional<UnguardedRight> own;     // to send the request's question; none: only with an empty one
    double watch_s = 8;                    // least time for each thing that is done
};

struct LearnedProfile {
    std::string toml;
    std::string as;                   // profile that fits; empty: it was learned
    std::vector<std::string> doubts;  // questions that the bytes did not decide
    std::size_t lines = 0;
    std::size_t understood = 0;
};

Task<Result<LearnedProfile>> learn_instrument(std::unique_ptr<Link> link, Clock& clock,
                                              boost::asio::io_context& context, LearnPerson& person,
                                              LearnPlan plan);

}  // namespace tipwright::bench
