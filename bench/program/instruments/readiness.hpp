// Readiness: may this bench be used today? No instrument's calibration is past due, and its balance did not
// fail its last check, unless somebody accepts that and says why. Also where the bench's checks are kept.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/descriptions/bench_checks.hpp"
#include "bench/descriptions/descriptions.hpp"
#include "bench/run/concession.hpp"
#include "bench/run/run.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

struct KeptChecks {
    std::filesystem::path file;  // empty: a bench of the templates, nothing is kept
    bench::BenchChecks checks;
};

// `wanted`: a file the user named, else the one beside the bench description. A file that is not there is
// empty.
Result<KeptChecks> load_checks(const std::string& bench, const std::filesystem::path& wanted);
Outcome save_checks(const KeptChecks& kept);

struct Readiness {
    std::vector<std::string> against;  // "the calibration of the balance (INV-BAL-11) was due on 2026-02-10"
    std::vector<std::string> remarks;  // the same with the reason why it was accepted
    std::vector<bench::Concession> concessions;  // the same for the journal
    std::optional<bench::KnownPumpScale> pump_scale;
    std::vector<std::string> told;  // what speaks against nothing, but should be known
};

// After a run: the hours its pump ran are kept with the checks of its bench, once however often the run is
// resumed. A virtual bench of the templates keeps nothing. Returns what prevented it, for people.
std::optional<std::string> keep_pump_hours(const std::string& name, const std::filesystem::path& checks,
                                           const bench::BenchDescription& bench,
                                           const std::filesystem::path& journal,
                                           const std::string& started_at);

std::string tube_text(const bench::TubeAge& age);  // "at least 12.5 h"

// Fault not_permitted when something speaks against the bench and no reason is given. `moment`: ISO.
Result<Readiness> readiness_of(const bench::BenchDescription& bench, const bench::BenchChecks& checks,
                               const std::string& moment, const std::string& reason);

// The same with the checks kept beside the bench description.
Result<Readiness> readiness_of_bench(const std::string& name, const bench::BenchDescription& bench,
                                     const std::string& moment, const std::string& reason);

}  // namespace tipwright::program
