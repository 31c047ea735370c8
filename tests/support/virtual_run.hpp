// A whole run on the virtual bench in lockstep, for tests and figure programs: the program's own parts, from
// descriptions to evaluation, beside the truth of the bench it ran on.
#pragma once

#include <unistd.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <filesystem>
#include <fstream>
#include <functional>
#include <optional>
#include <string>

#include "bench/descriptions/return_step.hpp"
#include "bench/journal/reader.hpp"
#include "bench/journal/writer.hpp"
#include "bench/program/run/lane.hpp"
#include "bench/run/replay.hpp"
#include "calib/decision/evaluation.hpp"
#include "tests/support/paths.hpp"

namespace tipwright::test {

struct TrueStep {
    double error_percent = 0;
    double volume_mL = 0;
};

struct VirtualRun {
    bench::RunEnd end;
    std::optional<bench::ReplayedRun> replayed;
    std::optional<calib::Evaluation> evaluation;
    std::vector<TrueStep> truth;              // per evaluated step, of the gauge as it was before any fault
    std::vector<TrueStep> truth_after_shift;  // of the gauge after its compartment shifted; empty: it did not
    bench::TrueLine line;                     // of the gauge, over the flows of the steps
    double bench_time_s = 0;
    double pumped_after_end_mL = 0;  // in the minute after the run ended: 0 when the pump stands
    std::string fault;               // of evaluation, when it failed
};

struct VirtualRunInputs {
    std::string gauge = "bucket-200-twin";
    std::string plan = "three-point-check";
    std::string bench = "virtual-bench";
    std::uint64_t seed = 1;
    bench::BenchFaults faults;
    bool with_truth = true;
    std::function<void(bench::RunControl&, const bench::Progress&)> watch;
    std::filesystem::path journal;  // empty: a temporary file, removed at the end
};

// A plan of the test's own, for VirtualRunInputs::plan. steps: the [[step]] tables.
inline std::string plan_of(const std::string& name, const std::string& steps) {
    const std::filesystem::path file = scratch_dir() / (name + ".toml");
    std::ofstream(file) << "title = \"" << name << "\"\ntarget_U_percent = 1.0\ncoverage = 0.95\n"
                        << "[wetting]\nintensity_mm_h = 220\ntips = 8\n[settle]\ntips = 2\ntime_s = 12\n"
                        << steps;
    return file.string();
}

inline VirtualRun run_virtual(const VirtualRunInputs& in) {
    namespace asio = boost::asio;
    const std::filesystem::path templates =
        std::filesystem::path(tipwright::test::source_dir()) / "templates";
    auto gauge = bench::load_gauge(in.gauge, templates);
    auto bench_description = bench::load_bench(in.bench, templates);
    auto plan = bench::load_plan(in.plan, templates);
    if (gauge && plan) plan = bench::with_return(*gauge, *plan);
    VirtualRun out;
    for (const Fault* fault :
         {gauge ? nullptr : &gauge.fault(), bench_description ? nullptr : &bench_description.fault(),
          plan ? nullptr : &plan.fault()}) {
        if (fault != nullptr) {
            out.fault = fault->line();
            return out;
        }
    }
    const bool temporary = in.journal.empty();
    const std::filesystem::path file = temporary ? std::filesystem::temp_directory_path() /
                                                       ("tipwright-test-" + std::to_string(::getpid()) + "-" +
                                                        in.gauge + "-" + std::to_string(in.seed) + ".twj")
                                                 : in.journal;
    std::filesystem::remove(file);

    asio::io_context context(1);
    auto clock = bench::make_lockstep_clock(context);
    auto instruments = program::LaneInstruments::make(context, *clock, *bench_description, *gauge, in.seed,
                                                      templates, in.faults);
    auto journal = bench::JournalWriter::create(file);
    if (!instruments || !journal) {
        out.fault = !instruments ? instruments.fault().line() : journal.fault().line();
        return out;
    }
    bench::RunLog log(**journal);
    log.open(0, "test", "2026-11-02T08:00:00Z", std::to_string(in.seed));
    log.given(0, "bench", bench_description->text.name, bench_description->text.text);
    log.given(0, "gauge kind", gauge->kind_text.name, gauge->kind_text.text);
    log.given(0, "gauge", gauge->text.name, gauge->text.text);
    log.given(0, "plan", plan->text.name, plan->text.text);
    bench::RunControl control;
    bench::Supervision supervision(context, {});
    bench::RunCallbacks callbacks;
    callbacks.progress = [&](const bench::Progress& progress) {
        if (in.watch) in.watch(control, progress);
    };
    const auto perform = [&]() -> bench::Task<void> {
        out.end =
            co_await bench::perform_run(context, *clock, supervision, (*instruments)->lane(), gauge->gauge,
                                        *bench_description, plan->plan, log, control, callbacks);
        out.bench_time_s = clock->now_s();
        log.close(clock->now_s(), "2026-11-02T10:00:00Z", out.end.complete,
                  out.end.fault ? out.end.fault->line() : "done");
        auto& physics = (*instruments)->virtual_bench()->physics();
        physics.advance_to(clock->now_s());
        const double before_mL = physics.water().pumped_mL;
        physics.advance_to(clock->now_s() + 60);
        out.pumped_after_end_mL = physics.water().pumped_mL - before_mL;
        (*instruments)->virtual_bench()->stop();
        clock->stop();
    };
    std::exception_ptr defect;
    asio::co_spawn(context, perform, [&](std::exception_ptr error) {
        defect = error;
        if (error) clock->stop();
    });
    clock->run();
    if (defect) std::rethrow_exception(defect);

    bench::Replay replay;
    const auto summary =
        bench::read_journal(file, [&](const bench::JournalEntry& entry) { return replay.take(entry); });
    if (!summary) {
        out.fault = summary.fault().line();
    } else if (auto run = replay.finish(); !run) {
        out.fault = run.fault().line();
    } else {
        out.replayed = std::move(*run);
        auto evaluation = calib::evaluate(out.replayed->observations, gauge->gauge,
                                          bench_description->metrology, plan->plan);
        if (evaluation) {
            out.evaluation = std::move(*evaluation);
        } else {
            out.fault = evaluation.fault().line();
        }
    }
    if (out.evaluation && in.with_truth) {
        const auto& curve = (*instruments)->virtual_bench()->curve();
        std::vector<double> flows;
        for (const auto& step : out.evaluation->steps) {
            const double flow_mL_s = step.flow_mL_min->value / 60;
            flows.push_back(flow_mL_s);
            out.truth.push_back({curve.error_percent(flow_mL_s), curve.volume_per_tip_mL(flow_mL_s)});
        }
        if (in.faults.compartment_shifts_at_s >= 0) {
            const auto shifted = curve.with_a_larger(in.faults.compartment_shift_percent / 100);
            for (const double flow_mL_s : flows)
                out.truth_after_shift.push_back(
                    {shifted.error_percent(flow_mL_s), shifted.volume_per_tip_mL(flow_mL_s)});
        }
        if (flows.size() > 1) out.line = curve.line(flows);
    }
    if (temporary) std::filesystem::remove(file);
    return out;
}

}  // namespace tipwright::test
