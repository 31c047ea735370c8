// One run of the fault campaign: a virtual bench in lockstep, driven by the program's own parts, on which one
// or two faults are let loose at random; and what came of it, judged from the truth of the bench.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "bench/virtual_bench/truth.hpp"

namespace tipwright::test {

struct DiskFault {
    std::uint64_t after_bytes = 0;  // 0: the disk is sound
    int write_error = 0;            // errno of writes from then on; 0: none
    int sync_error = 0;
    std::size_t at_once = 0;  // a write takes at most so many bytes; 0: all
};

struct FaultCase {
    std::uint64_t seed = 0;
    std::string gauge;
    bool pump_stops_by_itself = false;
    std::vector<std::string> faults;  // names of what was let loose
    bench::BenchFaults bench;
    DiskFault disk;
    double from_s = 1e300;  // the first fault
    // Bench time at which the instruments' own time limits must have told of a fault that has a sure sign
    // (a dead link, silence, garbage, an overload); 1e300: only the water or the tips can tell.
    double sure_sign_s = 1e300;
    bool pump_may_be_out_of_reach = false;  // its link is harmed
    bool pump_refuses = false;              // it answers, and does not do as it is told
    bool gauge_is_at_fault = false;  // contacts or bucket: what it indicates is then really not its curve
};

FaultCase make_fault_case(std::uint64_t seed);

struct CaseResult {
    bool certificate = false;     // the run was complete and its evaluation a success
    double worst_in_U = 0;        // largest |error - true error| over U of the certificate's steps
    bool named = false;           // the certificate names a fault of the gauge
    int tips_lost_unnoticed = 0;  // within collects that were kept, beyond what findings say
    bool faulted = false;
    double noticed_s = 0;         // the run turned to its end
    double pump_ran_until_s = 0;  // commanded flow above 0
    bool stop_confirmed = false;
    bool told_to_pull_the_plug = false;
    bool journal_readable = false;
    std::string end;  // in one line
};

CaseResult run_fault_case(const FaultCase& one);

}  // namespace tipwright::test
