// Workbench: a bench at work outside a run: its instruments open, balance and counter read all the time,
// under the same guard as a run. However the work ends, the pump is stopped before anything else happens.
#pragma once

#include <boost/asio/io_context.hpp>
#include <exception>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "bench/program/common_options.hpp"
#include "bench/program/instruments/workbench_options.hpp"
#include "bench/program/run/display.hpp"
#include "bench/program/run/lane.hpp"
#include "bench/run/step_tracker.hpp"
#include "bench/run/water_guard.hpp"

namespace tipwright::program {

// What the readers saw.
struct Seen {
    std::vector<bench::WeightReading> weights;
    std::vector<bench::ContactEdge> edges;
    std::optional<Fault> balance_fault;  // of its last failure
    std::optional<Fault> counter_fault;
};

class Workbench {
public:
    // `gauge`: the one that stands on it; a virtual bench needs one. Faults: of descriptions, profiles,
    // links.
    static Result<std::unique_ptr<Workbench>> open(const CommonOptions& common,
                                                   const WorkbenchOptions& options);
    ~Workbench();

    const bench::BenchDescription& description() const { return bench_; }
    const bench::GaugeDescription& gauge() const { return gauge_; }
    bool gauge_given() const { return gauge_given_; }
    // Nobody stands beside it: what a hand must do is done by the program.
    bench::VirtualBench* lockstep_bench() { return lockstep_ ? instruments_->virtual_bench() : nullptr; }
    bench::Clock& clock() { return *clock_; }
    bench::Lane lane() { return instruments_->lane(); }
    Seen& seen() { return seen_; }
    bench::StepTracker& tracker() { return tracker_; }
    // While the work is carried out. The guard is there; the permit is taken before the first water.
    bench::WaterGuard& guard() { return *guard_; }
    bench::Task<Outcome> take_permit();
    bench::Task<Outcome> let_flow(double flow_mL_min);
    // To those who stand beside the bench.
    void tell(const std::string& text);
    const bench::InstrumentDescription* instrument(const std::string& role) const;
    // When the work began.
    const std::string& started_at() const { return started_at_; }

    // Carries the work out; a signal ends it, and whatever the guard finds. Fault: that of the work, of the
    // guard, of a pump that could not be stopped; water_behind where the balance shows that it runs on.
    Outcome carry_out(std::function<bench::Task<Outcome>()> work);

private:
    Workbench(const CommonOptions& common, bench::BenchDescription bench, bench::GaugeDescription gauge,
              bool lockstep, double speed);
    bench::Task<void> carry_out_guarded(const std::function<bench::Task<Outcome>()>& work, Outcome& outcome,
                                        std::exception_ptr& defect);
    bench::Task<void> read_balance();
    bench::Task<void> read_counter();

    bench::BenchDescription bench_;
    bench::GaugeDescription gauge_;
    bool gauge_given_ = false;
    bool lockstep_;
    std::string started_at_;
    boost::asio::io_context context_{1};
    std::unique_ptr<bench::Clock> clock_;
    Display display_;
    bench::Supervision supervision_;
    bench::RunControl control_;
    std::unique_ptr<bench::WaterGuard> guard_;
    std::optional<bench::WaterPermit> permit_;
    std::unique_ptr<LaneInstruments> instruments_;
    Seen seen_;
    bench::StepTracker tracker_;
};

}  // namespace tipwright::program
