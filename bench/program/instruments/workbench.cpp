#include "bench/program/instruments/workbench.hpp"

#include <algorithm>
#include <csignal>
#include <cstdio>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/signal_set.hpp>

#include "bench/clock/signal.hpp"
#include "bench/program/run/lane_run.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

// A failed instrument is asked again, not at once.
constexpr double pause_after_fault_s = 0.5;

bench::Task<Outcome> stop_pump(bench::Pump& pump) {
    Outcome stopped = co_await pump.stop();
    for (int again = 0; !stopped && again < 3; ++again) stopped = co_await pump.stop();
    co_return stopped;
}

}  // namespace

Workbench::Workbench(bench::BenchDescription bench, bench::GaugeDescription gauge, bool lockstep,
                     double speed)
    : bench_(std::move(bench)),
      gauge_(std::move(gauge)),
      lockstep_(lockstep),
      clock_(lockstep ? bench::make_lockstep_clock(context_) : bench::make_wall_clock(context_, speed)),
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
    std::unique_ptr<Workbench> made(new Workbench(std::move(*bench), std::move(gauge),
                                                  simulated && !options.speed, options.speed.value_or(1)));
    made->started_at_ = *started_at;
    made->gauge_given_ = !options.gauge.empty();
    auto instruments = LaneInstruments::make(made->context_, *made->clock_, made->bench_, made->gauge_,
                                             options.seed, common.templates);
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
            if (reading.fault().code != FaultCode::interrupted) seen_.balance_fault = reading.fault();
            co_await clock_->sleep_for(pause_after_fault_s);
            continue;
        }
        tracker_.weight(reading->arrived_s, reading->mass_g);
        seen_.weights.push_back(std::move(*reading));
    }
}

bench::Task<void> Workbench::read_counter() {
    for (;;) {
        Result<bench::ContactEdge> edge = co_await instruments_->lane().counter.next();
        if (!edge) {
            seen_.counter_fault = edge.fault();
            co_await clock_->sleep_for(pause_after_fault_s);
            continue;
        }
        tracker_.edge(*edge);
        seen_.edges.push_back(*edge);
    }
}

Outcome Workbench::carry_out(std::function<bench::Task<Outcome>()> work) {
    using namespace asio::experimental::awaitable_operators;
    Outcome outcome = Fault{FaultCode::interrupted, "stopped by the operator", "bench", ""};
    bench::Signal interrupted(context_);
    asio::signal_set signals(context_, SIGINT, SIGTERM);
    signals.async_wait([&](const boost::system::error_code& error, int) {
        if (!error) interrupted.notify();
    });
    const auto do_work = [&]() -> bench::Task<void> { outcome = co_await work(); };
    const auto perform = [&]() -> bench::Task<void> {
        std::exception_ptr defect;
        try {
            co_await (do_work() || read_balance() || read_counter() || interrupted.wait());
        } catch (...) {
            defect = std::current_exception();
        }
        const Outcome stopped = co_await stop_pump(instruments_->lane().pump);
        if (!stopped && outcome) outcome = stopped;
        signals.cancel();
        instruments_->close();
        clock_->stop();
        if (defect) std::rethrow_exception(defect);
    };
    std::exception_ptr defect;
    asio::co_spawn(context_, perform, [&](const std::exception_ptr& error) {
        defect = error;
        if (error) clock_->stop();
    });
    clock_->run();
    if (defect) std::rethrow_exception(defect);
    return outcome;
}

void tell(const CommonOptions& common, const std::string& text) {
    std::FILE* stream = common.json ? stderr : stdout;
    print_to(stream, "%s\n", text.c_str());
    std::fflush(stream);
}

}  // namespace tipwright::program
