// How often the findings of whole virtual runs speak without a fault, and stay silent with one: 1000 runs
// each, over all five gauge kinds, each run with its own systematic errors of the bench. Takes minutes. A
// fault counts as recognised when a finding of the run names it, or the reason for which the run ended does.
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>
#include <future>
#include <string>
#include <vector>

#include "bench/run/finding_note.hpp"
#include "tests/support/virtual_run.hpp"

using namespace tipwright;
using tipwright::test::run_virtual;
using tipwright::test::VirtualRun;
using tipwright::test::VirtualRunInputs;

namespace {

constexpr int runs = 1000;
constexpr int workers = 2;
constexpr std::uint64_t first_seed = 50000;

const std::vector<std::string> every_kind{"bucket-150", "bucket-200-twin", "siphon-200", "magnet-spoon-160",
                                          "spoon-100"};

struct Tally {
    int cases = 0;
    int counted = 0;
};

// Names of findings, or words of a fault, by which it must be named.
bool named(const VirtualRun& run, const std::vector<std::string>& words) {
    std::string all = run.fault;
    if (run.replayed) {
        all += run.replayed->end_reason;
        for (const auto& finding : run.replayed->findings) all += bench::note_of(finding) + "\n";
        for (const auto& step : run.replayed->observations)
            for (const auto& finding : step.findings) all += bench::note_of(finding) + "\n";
    }
    if (run.evaluation)
        for (const auto& finding : run.evaluation->findings) all += bench::note_of(finding) + "\n";
    for (const std::string& word : words)
        if (all.find(word) != std::string::npos) return true;
    return false;
}

Tally over_runs(const std::vector<std::string>& kinds, const std::function<void(VirtualRunInputs&)>& prepare,
                const std::function<void(const VirtualRun&, Tally&)>& count) {
    std::vector<std::future<Tally>> parts;
    for (int worker = 0; worker < workers; ++worker) {
        parts.push_back(std::async(std::launch::async, [&, worker] {
            Tally tally;
            for (int k = worker; k < runs; k += workers) {
                VirtualRunInputs inputs;
                inputs.gauge = kinds[static_cast<std::size_t>(k) % kinds.size()];
                inputs.seed = first_seed + static_cast<std::uint64_t>(k);
                inputs.with_truth = false;
                prepare(inputs);
                count(run_virtual(inputs), tally);
            }
            return tally;
        }));
    }
    Tally all;
    for (auto& part : parts) {
        const Tally tally = part.get();
        all.cases += tally.cases;
        all.counted += tally.counted;
    }
    return all;
}

void figure(const std::string& name, const Tally& tally, double limit_percent) {
    const double percent = 100.0 * tally.counted / tally.cases;
    std::printf("figure %s %.3f %% limit <= %.3f %s\n", name.c_str(), percent, limit_percent,
                percent <= limit_percent ? "ok" : "short");
    std::fflush(stdout);
}

void missed(const std::string& name, double limit_percent, const std::vector<std::string>& kinds,
            const std::vector<std::string>& words, const std::function<void(VirtualRunInputs&)>& prepare) {
    figure("runs_missed_" + name,
           over_runs(kinds, prepare,
                     [&](const VirtualRun& run, Tally& tally) {
                         ++tally.cases;
                         if (named(run, words)) return;
                         ++tally.counted;
                         if (tally.counted <= 3)
                             std::fprintf(
                                 stderr, "silent on %s: %s\n", name.c_str(),
                                 run.replayed ? run.replayed->end_reason.c_str() : run.fault.c_str());
                     }),
           limit_percent);
}

// One long step at 2 mm/h.
std::string slow_plan_file() {
    const auto file = std::filesystem::temp_directory_path() /
                      ("tipwright-figures-" + std::to_string(::getpid()) + ".toml");
    std::ofstream(file) << "title = \"2 mm/h\"\ntarget_U_percent = 1\n"
                           "[[step]]\nintensity_mm_h = 2\nmin_tips = 16\ntime_limit_s = 14400\n";
    return file.string();
}

}  // namespace

int main() {
    const std::string slow_plan = slow_plan_file();
    // Five detectors at 0.1 % each look at a collect.
    figure("collects_with_a_false_finding",
           over_runs(
               every_kind, [](VirtualRunInputs&) {},
               [](const VirtualRun& run, Tally& tally) {
                   if (!run.replayed) return;
                   for (const auto& step : run.replayed->observations) {
                       ++tally.cases;
                       if (!step.findings.empty()) ++tally.counted;
                   }
               }),
           0.5);
    const auto phantom = [](VirtualRunInputs& inputs) {
        inputs.faults.phantom_tips_at_s = 0;
        inputs.faults.phantom_tips_per_min = 0.5;
    };
    // A result that stands on false tips unnoticed. In a few runs none falls into a collect.
    figure("runs_completed_with_phantom_tips_unnamed",
           over_runs(every_kind, phantom,
                     [](const VirtualRun& run, Tally& tally) {
                         ++tally.cases;
                         if (run.end.complete && !named(run, {"phantom", "contact extra"})) ++tally.counted;
                     }),
           2);
    // Others end early because the false tips make the flow look wrong, some after too few tips to tell why.
    missed("phantom_tips", 12, every_kind, {"phantom", "contact extra"}, phantom);
    // A result that stands on a weight that changed within a collect, by 1 g at a random moment.
    const double jumps_s = 400;
    figure("runs_completed_with_a_weight_that_changed_unnamed",
           over_runs(
               every_kind,
               [&](VirtualRunInputs& inputs) {
                   inputs.faults.balance_jumps_at_s = jumps_s;
                   inputs.faults.balance_jump_g = inputs.seed % 2 == 0 ? 1 : -1;
               },
               [&](const VirtualRun& run, Tally& tally) {
                   ++tally.cases;
                   if (!run.replayed || !run.end.complete) return;
                   for (const auto& step : run.replayed->observations)
                       if (jumps_s > step.started_s && jumps_s < step.started_s + *step.duration_s &&
                           !named(run, {"balance disturbed", "dropped disturbed"}))
                           ++tally.counted;
               }),
           2);
    missed("closures_that_fail", 1, every_kind, {"missed"}, [](VirtualRunInputs& inputs) {
        inputs.faults.contact_misses_at_s = 0;
        inputs.faults.contact_miss_probability = 0.1;
    });
    missed("dead_contact", 0, every_kind, {"missed", "one sided", "no tip was counted"},
           [](VirtualRunInputs& inputs) {
               inputs.faults.contact_misses_at_s = 0;
               inputs.faults.contact_miss_probability = 1;
           });
    missed("blocked_funnel", 1, every_kind,
           {"blocked funnel", "funnel slows", "funnel blocked", "gauge's funnel"},
           [](VirtualRunInputs& inputs) { inputs.faults.funnel_blocks_at_s = 400; });
    missed("compartments_10_percent_apart", 0.5, {"bucket-150", "bucket-200-twin"},
           {"compartment a larger", "compartment b larger"},
           [](VirtualRunInputs& inputs) { inputs.faults.compartment_shifts_at_s = 0; });
    missed("contact_that_bounces_long", 0.5, every_kind, {"contact bounce"}, [](VirtualRunInputs& inputs) {
        inputs.faults.bounce_storms_at_s = 0;
        inputs.faults.bounce_storm_s = 0.15;
    });
    // At 2 mm/h, where the vessel's loss matters most, from about 0.15 g/h (each run draws its own) to ten
    // times that.
    missed("growing_evaporation", 2, {"bucket-200-twin"}, {"evaporation"}, [&](VirtualRunInputs& inputs) {
        inputs.plan = slow_plan;
        inputs.faults.evaporation_growth_per_h = 8;
    });
    std::filesystem::remove(slow_plan);
    return 0;
}
