// Does a document ever claim what the virtual bench knows to be false? Every kind of gauge, every fault the
// virtual bench can make, so many seeds, each a whole run through journal, record, draft, check and issue in
// a register, as the program does it. Arguments: seeds a kind and fault (default 10), the first seed (default
// 1).
//   denied: an issued document states an error, a correction or a verdict that the truth denies, or calls a
//     quantity traceable whose instrument had no certificate or one that was due. An error or a correction is
//     denied when it lies more than 3 U from the truth (as in fault_campaign_figures.cpp: 1 U is missed by
//     one sound result in twenty, 3 U by none); a verdict when the truth lies beyond the limit by more than
//     U, since within that simple acceptance may be wrong by its own rule.
//   The truth is the gauge as it stands at the last tips of the last collect: what was measured before a part
//     of it shifted is denied too. A shift that at most the last three tips could tell of came after the run.
//   reserved on healthy runs: those that would need a person's acceptance.
// Traceability is varied by seed: all named, none, or the balance's calibration due before the run.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>

#include "bench/program/register/maker.hpp"
#include "bench/program/results/record_builder.hpp"
#include "report/files/fingerprint.hpp"
#include "report/record/statement_of.hpp"
#include "tests/report/scratch_folder.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/virtual_run.hpp"

using namespace tipwright;

namespace {

constexpr double beyond_chance_in_U = 3;
constexpr const char* kinds[] = {"bucket-150", "bucket-200-twin", "siphon-200", "magnet-spoon-160",
                                 "spoon-100"};

struct BenchFault {
    const char* name;
    void (*make)(bench::BenchFaults&, double at_s);
};

// Times within a run of the plan.
const BenchFault faults[] = {
    {"healthy", [](bench::BenchFaults&, double) {}},
    {"pump stalls", [](bench::BenchFaults& f, double t) { f.pump_stalls_at_s = t; }},
    {"pump runs on", [](bench::BenchFaults& f, double t) { f.pump_runs_on_at_s = t; }},
    {"pump refuses", [](bench::BenchFaults& f, double t) { f.pump_refuses_at_s = t; }},
    {"reservoir empties", [](bench::BenchFaults& f, double t) { f.reservoir_empties_at_s = t; }},
    {"funnel blocks", [](bench::BenchFaults& f, double t) { f.funnel_blocks_at_s = t; }},
    {"bucket sticks", [](bench::BenchFaults& f, double t) { f.bucket_sticks_at_s = t; }},
    {"compartment shifts", [](bench::BenchFaults& f, double t) { f.compartment_shifts_at_s = t; }},
    {"compartment shifts a little",
     [](bench::BenchFaults& f, double t) { f.compartment_shifts_at_s = t, f.compartment_shift_percent = 4; }},
    {"vessel leaks", [](bench::BenchFaults& f, double t) { f.vessel_leaks_at_s = t; }},
    {"vessel leaks a little",
     [](bench::BenchFaults& f, double t) { f.vessel_leaks_at_s = t, f.vessel_leak_mL_min = 0.2; }},
    {"drain sticks", [](bench::BenchFaults& f, double t) { f.drain_sticks_at_s = t; }},
    {"evaporation grows", [](bench::BenchFaults& f, double) { f.evaporation_growth_per_h = 8; }},
    {"counter silent", [](bench::BenchFaults& f, double t) { f.counter_silent_at_s = t; }},
    {"clock steps", [](bench::BenchFaults& f, double t) { f.counter_clock_steps_at_s = t; }},
    {"phantom tips", [](bench::BenchFaults& f, double t) { f.phantom_tips_at_s = t; }},
    {"phantom tips, few",
     [](bench::BenchFaults& f, double t) { f.phantom_tips_at_s = t, f.phantom_tips_per_min = 0.5; }},
    {"contact misses", [](bench::BenchFaults& f, double t) { f.contact_misses_at_s = t; }},
    {"contact 2 misses",
     [](bench::BenchFaults& f, double t) { f.contact_misses_at_s = t, f.contact_missing = 2; }},
    {"contact misses seldom",
     [](bench::BenchFaults& f, double t) { f.contact_misses_at_s = t, f.contact_miss_probability = 0.02; }},
    {"contact dead",
     [](bench::BenchFaults& f, double t) { f.contact_misses_at_s = t, f.contact_miss_probability = 1; }},
    {"bounce storms", [](bench::BenchFaults& f, double t) { f.bounce_storms_at_s = t; }},
    {"bounce storms, long",
     [](bench::BenchFaults& f, double t) { f.bounce_storms_at_s = t, f.bounce_storm_s = 0.3; }},
    {"balance garbles", [](bench::BenchFaults& f, double t) { f.balance_garbles_at_s = t; }},
    {"balance freezes", [](bench::BenchFaults& f, double t) { f.balance_freezes_at_s = t; }},
    {"balance jumps", [](bench::BenchFaults& f, double t) { f.balance_jumps_at_s = t; }},
    {"balance jumps a little",
     [](bench::BenchFaults& f, double t) { f.balance_jumps_at_s = t, f.balance_jump_g = 0.3; }},
    {"balance overload", [](bench::BenchFaults& f, double t) { f.balance_overload_at_s = t; }},
    {"link lost", [](bench::BenchFaults& f, double t) { f.link_lost_at_s = t; }},
    {"bytes lost",
     [](bench::BenchFaults& f, double t) {
         f.links.push_back({"all", t, 1e300, 0.001, 0, 0, 0, 0});
     }},
    {"bits flipped",
     [](bench::BenchFaults& f, double t) {
         f.links.push_back({"all", t, 1e300, 0, 0.001, 0, 0, 0});
     }},
    {"bytes repeated",
     [](bench::BenchFaults& f, double t) {
         f.links.push_back({"all", t, 1e300, 0, 0, 0.001, 0, 0});
     }},
    {"bursts",
     [](bench::BenchFaults& f, double t) {
         f.links.push_back({"all", t, 1e300, 0, 0, 0, 0.0005, 0});
     }},
    {"slow balance",
     [](bench::BenchFaults& f, double t) {
         f.links.push_back({"balance", t, 1e300, 0, 0, 0, 0, 2});
     }},
};

template <class T>
T need(Result<T> result) {
    if (!result) {
        std::fprintf(stderr, "honesty_figures: %s\n", result.fault().line().c_str());
        std::exit(1);
    }
    return std::move(result.value());
}

struct Tally {
    long runs = 0;
    long records = 0;
    long issued = 0;
    long refused = 0;
    long denied = 0;
    long healthy = 0;
    long healthy_reserved = 0;
};

// Three benches: everything calibrated, nothing, the balance overdue.
void vary_traceability(report::Record& record, std::uint64_t seed) {
    for (auto& used : record.instruments) {
        if (seed % 3 == 1) used.certificate.clear();
        if (seed % 3 == 2 && used.role == "balance") used.due_on = "2026-01-01";
    }
    report::state(record);
}

bool claims_a_trace_it_has_not(const report::Record& record, std::uint64_t seed) {
    const calib::Statement& said = record.statement;
    if (seed % 3 == 1) {
        if (said.document == calib::DocumentKind::calibration_certificate) return true;
        for (const calib::Trace trace : said.traceability.all())
            if (trace == calib::Trace::named) return true;
    }
    return seed % 3 == 2 && said.traceability.mass == calib::Trace::named;
}

// The truth of the gauge as it stands at the end.
const std::vector<test::TrueStep>& truth_at_end(const test::VirtualRun& run, double shifts_at_s) {
    constexpr double tips_that_tell = 3;
    const auto& steps = run.evaluation->steps;
    if (run.truth_after_shift.empty() || steps.empty()) return run.truth;
    const calib::StepObservation& last = steps.back().observation;
    const double ended_s = last.started_s + last.duration_s.value_or(0);
    const double told_until_s = ended_s - tips_that_tell * steps.back().mean_interval_s.value_or(0);
    return shifts_at_s < told_until_s ? run.truth_after_shift : run.truth;
}

// The first claim of an issued record that the truth denies; empty: none.
std::string denied_claim(const report::Record& record, const test::VirtualRun& run, double shifts_at_s) {
    const std::vector<test::TrueStep>& truth = truth_at_end(run, shifts_at_s);
    const calib::Evaluation& evaluation = record.evaluation;
    double worst_beyond = -1e300;  // how far the truth lies beyond a limit, in U; below 0: within all
    for (std::size_t k = 0; k < evaluation.steps.size(); ++k) {
        const calib::StepResult& step = evaluation.steps[k];
        const int number = step.observation.step;
        const double off = std::abs(step.error_percent.value - truth[k].error_percent);
        if (report::is_stated(record, number) && off > beyond_chance_in_U * step.error_expanded.U)
            return "error of step " + std::to_string(number) + ", " +
                   std::to_string(off / step.error_expanded.U) + " U off";
        for (const auto& row : evaluation.conformity.steps) {
            if (row.step != number || row.verdict == calib::Verdict::no_limit) continue;
            const double beyond =
                std::max(truth[k].error_percent - row.high_percent, row.low_percent - truth[k].error_percent);
            worst_beyond = std::max(worst_beyond, beyond / step.error_expanded.U);
        }
    }
    if (evaluation.conformity.overall == calib::Verdict::pass && worst_beyond > 1) return "a pass";
    if (evaluation.conformity.overall == calib::Verdict::fail && worst_beyond < -1) return "a fail";
    if (!evaluation.correction) return {};
    for (std::size_t k = 0; k < evaluation.steps.size(); ++k) {
        const double flow = evaluation.steps[k].flow_mL_min->value / 60;
        if (flow < evaluation.model->flow_min_mL_s || flow > evaluation.model->flow_max_mL_s) continue;
        const calib::Uncertain volume = evaluation.model->volume_at(flow);
        const double U = std::hypot(
            calib::expanded(volume, 0.95).U,
            // The truth's area is not the nominal one.
            truth[k].volume_mL * 2 * record.gauge.catch_area_cm2().u / record.gauge.catch_area_cm2().value);
        const double off = std::abs(volume.value - truth[k].volume_mL);
        if (off > beyond_chance_in_U * U) return "the correction, " + std::to_string(off / U) + " U off";
    }
    return {};
}

}  // namespace

int main(int argc, char** argv) {
    const int seeds = argc > 1 ? std::atoi(argv[1]) : 10;
    const std::uint64_t first = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
    const char* only = argc > 3 ? argv[3] : nullptr;
    const test::ScratchFolder folder;
    const std::string keys_folder = folder / "keys";
    need(seal::make_keys(keys_folder, seal::Passphrase("a passphrase"), "2026-01-01", {1, 8192}));
    const auto key = need(seal::unlock_key(keys_folder, seal::Passphrase("a passphrase")));
    const report::Actor signatory{"A. Signatory", "2026-12-05T09:00:00Z"};
    const report::Actor checker{"C. Checker", "2026-12-05T09:00:00Z"};
    auto reg = need(report::Register::open(folder / "register", "2026-01-01T00:00:00Z", true));
    need(reg.put_person(signatory, {0, "A. Signatory", true, true, true, true}));
    need(reg.put_person(signatory, {0, "C. Checker", true, true, false, true}));
    program::CommonOptions common;
    common.templates = test::source_dir() + "/templates";
    const auto maker = need(program::CertificateMaker::load(common, {}));

    Tally all;
    std::map<std::string, Tally> of_fault;
    for (const char* kind : kinds)
        for (const BenchFault& fault : faults) {
            if (only != nullptr && std::string(only) != fault.name) continue;
            for (int k = 0; k < seeds; ++k) {
                test::VirtualRunInputs in;
                in.gauge = kind;
                in.seed = first + static_cast<std::uint64_t>(k);
                // From before the first tip to the last step.
                fault.make(in.faults, 40.0 * static_cast<double>((in.seed * 7919) % 31));
                const auto run = test::run_virtual(in);
                Tally& tally = of_fault[fault.name];
                ++tally.runs;
                if (!run.replayed || !run.end.complete || !run.evaluation) continue;
                auto record = program::record_of_run(
                    *run.replayed,
                    {"journal.twj",
                     report::sha256_hex(std::string(kind) + fault.name + std::to_string(in.seed))},
                    {});
                if (!record) continue;
                ++tally.records;
                // The kinds' own descriptions name no single gauge.
                record->identity.model = std::string(kind) + " (invented)";
                record->identity.serial =
                    std::string("INV-") + kind + "-" + fault.name + "-" + std::to_string(in.seed);
                vary_traceability(*record, in.seed);
                const bool healthy = &fault == &faults[0];
                if (healthy) ++tally.healthy;
                if (healthy && record->statement.needs_acceptance()) {
                    ++tally.healthy_reserved;
                    for (const auto& note : report::reservation_notes(*record))
                        std::printf("# reserved: healthy %s seed %d: %s\n", kind, static_cast<int>(in.seed),
                                    note.c_str());
                }
                report::Draft draft;
                draft.as_found = need(reg.enter_record(signatory, *record, "B1"));
                const auto id = need(reg.draft(signatory, draft));
                need(reg.mark_checked(checker, id));
                const auto issued = reg.issue(signatory, id, "B1", key, [&](const report::IssueSheet& sheet) {
                    return maker.documents(sheet, key);
                });
                if (!issued) {
                    ++tally.refused;
                    continue;
                }
                ++tally.issued;
                std::string denied = denied_claim(*record, run, in.faults.compartment_shifts_at_s);
                if (claims_a_trace_it_has_not(*record, in.seed)) denied = "traceability";
                if (denied.empty()) continue;
                ++tally.denied;
                std::printf("# denied: %s on %s, seed %d: %s\n", fault.name, kind, static_cast<int>(in.seed),
                            denied.c_str());
            }
        }
    for (const auto& [name, tally] : of_fault) {
        std::printf("# %-24s %5ld runs, %5ld complete, %5ld issued, %5ld refused, %ld denied\n", name.c_str(),
                    tally.runs, tally.records, tally.issued, tally.refused, tally.denied);
        all.runs += tally.runs;
        all.records += tally.records;
        all.issued += tally.issued;
        all.refused += tally.refused;
        all.denied += tally.denied;
        all.healthy += tally.healthy;
        all.healthy_reserved += tally.healthy_reserved;
    }
    std::printf("reference honesty_runs %ld, complete %ld, issued %ld, refused for a reservation %ld\n",
                all.runs, all.records, all.issued, all.refused);
    bool good = test::figure("honesty_documents_that_the_truth_denies", static_cast<double>(all.denied),
                             ("of_" + std::to_string(all.issued)).c_str(), "<=", 0);
    if (all.healthy > 0)
        good =
            test::figure("honesty_reserved_healthy_runs",
                         100.0 * static_cast<double>(all.healthy_reserved) / static_cast<double>(all.healthy),
                         "%", "<=", 1) &&
            good;
    return good ? 0 : 1;
}
