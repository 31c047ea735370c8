#include "bench/program/instruments/workbench.hpp"

#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <utility>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>

#include "bench/program/run/drive.hpp"
#include "bench/program/run/lane_run.hpp"
#include "bench/program/terminal.hpp"
#include "bench/run/unconfirmed_stop.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

// A failed instrument is asked again, not at once.
constexpr double pause_after_fault_s = 0.5;

// Of water that comes to the balance, as in a run: what a dry hose, a funnel and a gauge nobody named may
// keep.
constexpr double water_patience_s = 25;
constexpr double prime_allowance_mL = 120;
constexpr double unknown_tip_mL = 5;

}  // namespace

Workbench::Workbench(const CommonOptions& common, bench::BenchDescription bench,
                     bench::GaugeDescription gauge, bool lockstep, double speed)
    : bench_(std::move(bench)),
      gauge_(std::move(gauge)),
      lockstep_(lockstep),
      clock_(lockstep ? bench::make_lockstep_clock(context_) : bench::make_wall_clock(context_, speed)),
      display_(common.json ? STDERR_FILENO : STDOUT_FILENO, common.json ? -1 : STDERR_FILENO),
      supervision_(context_, supervision_of(has_virtual_links(bench_) ? 0 : bench_.limits.hang_s, display_,
                                            [this] { tell(stopping_words); })),
      tracker_(gauge_.gauge, bench_.metrology) {}

Workbench::~Workbench() = default;

Result<std::unique_ptr<Workbench>> Workbench::open(const CommonOptions& common,
                                                   const WorkbenchOptions& options) {
    auto bench = bench::load_bench(options.bench, common.templates);
    if (!bench) return bench.fault();
    bench::GaugeDescription gauge;
    if (!options.gauge.empty()) {
        auto loaded = bench::load_gauge(options.gauge, common.templates);
        if (!loaded) return loaded.fault();
        gauge = std::move(*loaded);
    }
    if (options.speed && !bench->truth) {
        return Fault{FaultCode::usage, "--speed is for virtual benches; real water runs at its own",
                     "command line", "leave it out"};
    }
    const bool simulated = has_virtual_links(*bench);
    if (simulated && options.gauge.empty()) {
        return Fault{FaultCode::usage, "a virtual bench needs a gauge on it", "--gauge",
                     "give one, for example --gauge demo-bucket-200-twin"};
    }
    const auto started_at = start_moment(*bench, options.started_at);
    if (!started_at) return started_at.fault();
    const double speed = speed_of(*bench, options.speed);
    std::unique_ptr<Workbench> made(
        new Workbench(common, std::move(*bench), std::move(gauge), simulated && !options.speed, speed));
    made->started_at_ = *started_at;
    made->gauge_given_ = !options.gauge.empty();
    auto instruments = LaneInstruments::make(made->context_, *made->clock_, made->bench_, made->gauge_,
                                             options.seed, common.templates, {}, &made->supervision_);
    if (!instruments) return instruments.fault();
    made->instruments_ = std::move(*instruments);
    return made;
}

const bench::InstrumentDescription* Workbench::instrument(const std::string& role) const {
    const auto found = std::find_if(bench_.instruments.begin(), bench_.instruments.end(),
                                    [&](const auto& one) { return one.role == role; });
    return found == bench_.instruments.end() ? nullptr : &*found;
}

bench::Task<void> Workbench::read_balance() {
    for (;;) {
        Result<bench::WeightReading> reading = co_await instruments_->lane().balance.next();
        if (!reading) {
            // Pre-empted by another question to the balance: none of its faults.
            if (reading.fault().code != FaultCode::interrupted) {
                seen_.balance_fault = reading.fault();
                if (guard_->flowing()) guard_->failed(reading.fault());
            }
            co_await clock_->sleep_for(pause_after_fault_s);
            continue;
        }
        tracker_.weight(reading->arrived_s, reading->mass_g);
        guard_->weight(*reading);
        seen_.weights.push_back(std::move(*reading));
    }
}

bench::Task<void> Workbench::read_counter() {
    for (;;) {
        Result<bench::ContactEdge> edge = co_await instruments_->lane().counter.next();
        if (!edge) {
            seen_.counter_fault = edge.fault();
            // One that only missed a line may be looked at later; with its cable out, nobody sees what the
            // gauge does.
            if (edge.fault().code == FaultCode::link_lost && guard_->flowing()) guard_->failed(edge.fault());
            co_await clock_->sleep_for(pause_after_fault_s);
            continue;
        }
        tracker_.edge(*edge);
        seen_.edges.push_back(*edge);
    }
}

bench::Task<Outcome> Workbench::take_permit() {
    auto permit = co_await guard_->take();
    if (!permit) co_return permit.fault();
    permit_.emplace(std::move(*permit));
    co_return Done{};
}

bench::Task<Outcome> Workbench::let_flow(double flow_mL_min) {
    const double tip_mL = gauge_given_ ? gauge_.gauge.nominal_tip_mL() : unknown_tip_mL;
    const double slug_mL = 4 * tip_mL + (gauge_given_ ? 2 * gauge_.gauge.siphon_volume_mL : 4 * tip_mL);
    const double patience_s = water_patience_s + 60 * (slug_mL + prime_allowance_mL) / flow_mL_min;
    return guard_->let_flow(*permit_, flow_mL_min, {0.3 * tip_mL, patience_s});
}

// The work, and whatever became of it then a pump that stands. Throws nothing.
bench::Task<void> Workbench::carry_out_guarded(const std::function<bench::Task<Outcome>()>& work,
                                               Outcome& outcome, std::exception_ptr& defect) {
    try {
        outcome = co_await guard_->carry_out(work);
    } catch (...) {
        defect = std::current_exception();
    }
    const Outcome stopped = co_await guard_->make_safe();
    if (!stopped && outcome) outcome = stopped;
    if (!guard_->water_flowed()) co_return;
    const bool confirmed = co_await guard_->confirm_stopped(stopped.ok());
    outcome = bench::unless_stop_unconfirmed(std::move(outcome), *guard_, confirmed);
}

Outcome Workbench::carry_out(std::function<bench::Task<Outcome>()> work) {
    using namespace asio::experimental::awaitable_operators;
    Outcome outcome = Fault{FaultCode::interrupted, "stopped by the operator", "bench", ""};
    std::exception_ptr defect;
    guard_ = std::make_unique<bench::WaterGuard>(
        context_, *clock_, lane(), gauge_.gauge, bench_, supervision_, control_, nullptr, nullptr,
        [this](const std::string& text) { display_.cry("!! " + visible(text) + "\n"); });
    supervision_.begin();
    const auto perform = [&]() -> bench::Task<void> {
        co_await (carry_out_guarded(work, outcome, defect) || read_balance() || read_counter() ||
                  guard_->keep_pump_alive());
        supervision_.end();
        guard_.reset();
        instruments_->close();
        clock_->stop();
    };
    asio::co_spawn(context_, perform, [&](const std::exception_ptr& error) {
        if (!error) return;
        defect = error;
        clock_->stop();
    });
    clock_->run();
    guard_.reset();
    suspend_if_asked(supervision_, display_);
    display_.finish();
    if (defect) std::rethrow_exception(defect);
    return outcome;
}

void Workbench::tell(const std::string& text) {
    display_.say(visible(text) + "\n");
}

}  // namespace tipwright::program
