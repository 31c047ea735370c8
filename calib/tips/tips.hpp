// Tips: from contact closures to tips. Edges of one contact closer than the debounce time to the start of
// its last closure belong to that closure; closures of two contacts closer than that belong to one tip.
// Times in seconds on one clock. Fed edge by edge, so that a run and an evaluation count alike.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "calib/base/gauge.hpp"

namespace tipwright::calib {

inline constexpr std::size_t max_contacts = 2;

struct Tip {
    double time_s = 0;                         // first closure of any contact
    std::array<bool, max_contacts> seen_by{};  // contact 1, 2
};

class TipCollector {
public:
    explicit TipCollector(const Gauge& gauge);

    // One electrical change of contact 1 or 2; closed is the state after it. Edges must come in time
    // order. Returns true when a new tip began.
    bool push(int contact, bool closed, double time_s);

    const std::vector<Tip>& tips() const { return tips_; }
    // How many of the tips first_tip to last_tip (both included) this contact saw.
    int count(int contact, std::size_t first_tip, std::size_t last_tip) const;
    // Edges that were taken as bounce.
    int bounces() const { return bounces_; }

private:
    std::vector<Contact> contacts_;
    double debounce_s_;
    std::array<double, max_contacts> last_closure_s_;
    std::vector<Tip> tips_;
    int bounces_ = 0;
};

}  // namespace tipwright::calib
