// LiveRun: follows one run, entry by entry, to what there is to say about it. The entries go through
// bench/run/replay.hpp, so what is shown is what the run saw and what the certificate will say.
#pragma once

#include <memory>
#include <vector>

#include "bench/journal/entry.hpp"
#include "bench/page/live/run_facts.hpp"
#include "bench/run/replay.hpp"
#include "calib/weighing/weight_window.hpp"

namespace tipwright::page {

class LiveRun {
public:
    LiveRun(std::string id, int number);
    ~LiveRun();
    LiveRun(LiveRun&&) noexcept;
    LiveRun& operator=(LiveRun&&) noexcept;

    // Entries in order. A Fault makes the run unreadable from there on.
    Outcome take(const bench::JournalEntry& entry);
    void unreadable(const Fault& fault);
    // `held`: a process has the journal open for writing. Cheap; computes the collect in hand only when a new
    // tip may have changed it.
    const RunFacts& facts(bool held);

    // Its journal was closed.
    bool ended() const;
    // Complete, and nobody was asked yet what came out of it.
    bool waits_for_verdict() const;
    void being_judged();
    void judged(const Result<CameOut>& came_out);

    // For charts: the run so far; descriptions are there once it has begun.
    const bench::ReplayedRun& so_far() const;
    bool begun() const;
    struct Minutes {
        std::vector<calib::WeightPoint> weights;  // of the step in hand, bench time in seconds
        std::vector<double> tips_s;
    };
    Minutes last_minutes(double seconds) const;

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace tipwright::page
