// Replay: from journal entries back to observations. A pure function of the entries: the same journal
// gives the same observations to the last bit, while the run was going on or ten years later.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/descriptions/descriptions.hpp"
#include "bench/journal/entry.hpp"
#include "bench/run/concession.hpp"
#include "calib/base/fault.hpp"
#include "calib/tips/observation.hpp"

namespace tipwright::bench {

struct ReplayedRun {
    GaugeDescription gauge;
    BenchDescription bench;
    PlanDescription plan;
    std::string program_version;
    std::string seed;
    std::string started_at;
    std::optional<bool> as_left;  // after adjustment; nothing: the journal does not say (1.0)
    std::string ended_at;         // empty: the journal was never closed
    bool complete = false;
    std::string end_reason;
    std::vector<calib::StepObservation> observations;  // of the steps whose collect was closed
    std::vector<std::string> remarks;
    std::vector<Concession> concessions;
    // About the run as a whole, of collects that were dropped, and of the step in hand when a fault ended the
    // run; those of a step are with its observation.
    std::vector<calib::Finding> findings;
    double duration_s = 0;
    int times_continued = 0;
    int step_in_hand = 0;  // settling or collecting when the journal ended; 0: none
    bool begun = false;    // something happened after the descriptions: they are whole
};

class StepTracker;

class Replay {
public:
    Replay();
    ~Replay();
    Replay(const Replay&) = delete;
    Replay& operator=(const Replay&) = delete;

    // Entries in order. Fault: an entry that does not fit what came before, named by its number.
    Outcome take(const JournalEntry& entry);
    // Something happened after the descriptions: they are whole.
    bool begun() const;
    // For whoever follows a run that goes on. The tracker is there once it has begun.
    const ReplayedRun& so_far() const;
    const StepTracker* tracker() const;
    // The tip on which the collect in hand opened.
    std::optional<std::size_t> opening() const;
    // Call once, after the last entry.
    Result<ReplayedRun> finish();

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace tipwright::bench
