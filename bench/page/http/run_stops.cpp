#include "bench/page/http/run_stops.hpp"

#include "bench/journal/holder.hpp"

namespace tipwright::page {

namespace {

// A second signal makes a run leave without waiting for the balance: a finger that taps twice does not mean
// it.
constexpr std::chrono::seconds second_stop_after{8};

}  // namespace

Outcome RunStops::stop(const std::vector<std::string>& ids) {
    const auto now = std::chrono::steady_clock::now();
    std::erase_if(stopped_, [&](const auto& one) { return now - one.second > second_stop_after; });
    Outcome outcome = Done{};
    const auto holders = bench::holders_now();
    for (const std::string& id : ids) {
        const auto journal = work_.journal_of(id);
        const auto file = bench::file_id(journal);
        const auto holder = file ? holders.find(*file) : holders.end();
        if (holder != holders.end() && !stopped_.emplace(holder->second, now).second) continue;
        if (auto sent = bench::interrupt_holder(journal); !sent) outcome = sent;
    }
    return outcome;
}

}  // namespace tipwright::page
