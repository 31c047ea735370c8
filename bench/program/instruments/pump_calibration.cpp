#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/command.hpp"
#include "bench/program/instruments/commands.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/instruments/work_vessel.hpp"
#include "bench/program/instruments/workbench.hpp"
#include "bench/program/terminal.hpp"
#include "bench/run/measured_flow.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

struct PumpCalibrationOptions {
    WorkbenchOptions work;
    std::vector<double> flows_mL_min = {20, 60, 150};
    double target_percent = 0.5;  // standard uncertainty of each flow
    double longest_s = 600;       // longest time at each flow
    std::optional<double> tube_h;
};

using calib::fixed;

constexpr int settle_tips = 2;  // after a change of rate
constexpr double settle_s = 10;
constexpr double look_every_s = 1;
// One rate says nothing of how the scale changes between rates.
constexpr double one_rate_u = 0.004;

class PumpCalibrator {
public:
    PumpCalibrator(const PumpCalibrationOptions& options, Workbench& work)
        : options_(options), work_(work), vessel_(work) {}

    bench::Task<Outcome> perform() {
        const Outcome taken = co_await work_.take_permit();
        if (!taken) co_return taken;
        if (const Outcome emptied = co_await vessel_.empty(wanted_g()); !emptied) co_return emptied;
        if (work_.lane().climate != nullptr) {
            const Result<bench::ClimateReading> climate = co_await work_.lane().climate->read();
            if (!climate) co_return climate.fault();
            work_.tracker().climate(*climate);
        }
        for (std::size_t i = 0; i < options_.flows_mL_min.size(); ++i) {
            const Outcome measured = co_await measure(static_cast<int>(i), options_.flows_mL_min[i]);
            if (!measured) co_return measured;
        }
        co_return Done{};
    }

    const std::vector<bench::PumpPoint>& points() const { return points_; }
    // How long the pump ran.
    double hours() const { return running_s_ / 3600; }

private:
    // At most: a rate ends at its limit of time.
    double wanted_g() const {
        double sum_mL = 0;
        for (const double flow_mL_min : options_.flows_mL_min)
            sum_mL += flow_mL_min * options_.longest_s / 60;
        return sum_mL;
    }
    static Fault silent() {
        return {FaultCode::no_answer, "no reading comes any more", "balance", "check power and cable"};
    }

    bench::Task<Outcome> measure(int number, double set_mL_min) {
        work_.tell("Pump set to " + fixed(set_mL_min, 1) + " mL/min.");
        const double area_cm2 = work_.gauge().gauge.catch_area_cm2().value;
        work_.tracker().begin_step(number, calib::intensity_mm_h(set_mL_min, area_cm2));
        const Outcome set = co_await work_.let_flow(set_mL_min);
        if (!set) co_return set;
        const double set_s = work_.clock().now_s();
        std::optional<calib::Uncertain> flow;
        while (true) {
            co_await work_.clock().sleep_for(look_every_s);
            const double now_s = work_.clock().now_s();
            if (work_.seen().counter_fault) co_return *work_.seen().counter_fault;
            if (const auto from_s = settled_since(set_s)) {
                flow = bench::measured_flow_mL_min(work_.tracker(), work_.gauge().gauge,
                                                   work_.description().metrology, 0.95, *from_s, now_s);
            }
            const bool good = flow && 100 * flow->u <= options_.target_percent * flow->value;
            const auto water = vessel_.water_g();
            if (!water) co_return silent();
            const bool full = *water > work_.description().vessel_capacity_g - 50;
            if (good || full || now_s > set_s + options_.longest_s) break;
        }
        if (!flow) {
            co_return Fault{
                FaultCode::time_limit,
                "the gauge gave too few tips at " + fixed(set_mL_min, 1) + " mL/min to weigh between", "pump",
                "give larger --flows, more time by --longest, or empty the vessel first"};
        }
        points_.push_back({set_mL_min, flow->value, flow->u});
        running_s_ += work_.clock().now_s() - set_s;
        if (vessel_.water_g().value_or(0) > work_.description().vessel_capacity_g / 2 &&
            work_.description().has_drain_valve) {
            const Outcome stopped = co_await work_.guard().stop();
            if (!stopped) co_return stopped;
            co_return co_await vessel_.empty(wanted_g());
        }
        co_return Done{};
    }

    std::optional<double> settled_since(double set_s) const {
        int tips = 0;
        for (const auto& tip : work_.tracker().tips()) {
            if (tip.time_s > set_s + settle_s && ++tips > settle_tips) return tip.time_s;
        }
        return std::nullopt;
    }

    const PumpCalibrationOptions& options_;
    Workbench& work_;
    WorkVessel vessel_;
    double running_s_ = 0;
    std::vector<bench::PumpPoint> points_;
};

// The scale that holds at any rate between the points: their mean, and how far they lie from it.
void summarise(bench::PumpCalibration& pump) {
    double weights = 0;
    double sum = 0;
    for (const auto& point : pump.points) {
        const double u = point.u_mL_min / point.set_mL_min;
        const double weight = 1 / (u * u + one_rate_u * one_rate_u);
        weights += weight;
        sum += weight * point.delivered_mL_min / point.set_mL_min;
    }
    pump.scale = sum / weights;
    double spread = 0;
    for (const auto& point : pump.points) {
        const double off = point.delivered_mL_min / point.set_mL_min - pump.scale;
        spread += off * off;
    }
    const auto n = static_cast<double>(pump.points.size());
    const double between = n > 1 ? std::sqrt(spread / (n - 1)) : one_rate_u;
    pump.relative_u = std::hypot(1 / std::sqrt(weights), between) / pump.scale;
}

void print(const CommonOptions& common, const bench::PumpCalibration& pump,
           const std::filesystem::path& file) {
    if (common.json) {
        nlohmann::ordered_json points = nlohmann::ordered_json::array();
        for (const auto& point : pump.points)
            points.push_back({{"set_mL_min", point.set_mL_min},
                              {"delivered_mL_min", point.delivered_mL_min},
                              {"u_mL_min", point.u_mL_min}});
        nlohmann::ordered_json document = {{"ok", true},          {"at", pump.at},
                                           {"pump", pump.serial}, {"tube_h", nullptr},
                                           {"scale", pump.scale}, {"relative_u", pump.relative_u},
                                           {"points", points},    {"kept_in", file.string()}};
        if (pump.tube_h) document["tube_h"] = *pump.tube_h;
        print_json(document);
        return;
    }
    print_to(stdout, "\n%14s  %20s  %12s  %10s\n", "set, mL/min", "delivered, mL/min", "U (k = 2)", "scale");
    for (const auto& point : pump.points)
        print_to(stdout, "%14.1f  %20.3f  %12.3f  %10.4f\n", point.set_mL_min, point.delivered_mL_min,
                 2 * point.u_mL_min, point.delivered_mL_min / point.set_mL_min);
    print_to(stdout, "\nscale %.4f, U %.4f (k = 2)", pump.scale, 2 * pump.scale * pump.relative_u);
    if (pump.tube_h) print_to(stdout, ", tube run %s h", fixed(*pump.tube_h, 1).c_str());
    print_to(stdout, "\n%s\n",
             file.empty() ? "not kept, because the bench is a template; to keep it, give --checks FILE"
                          : ("kept in " + file.string()).c_str());
}

ExitCode pump_calibration(const CommonOptions& common, const PumpCalibrationOptions& options) {
    if (options.work.gauge.empty())
        return fail(common, {FaultCode::usage, "the gauge that stands on the bench is not given", "--gauge",
                             "its tips close the weighings; any gauge or gauge kind will do"});
    const auto work = Workbench::open(common, options.work);
    if (!work) {
        const bool lost = work.fault().code == FaultCode::link_lost;
        return fail(common, work.fault(), lost ? ExitCode::bench_fault : ExitCode::bad_input);
    }
    const double most = (*work)->description().max_flow_mL_min;
    for (const double flow : options.flows_mL_min) {
        if (flow <= most) continue;
        return fail(common,
                    {FaultCode::bad_value, fixed(flow, 1) + " mL/min is above the bench's " + fixed(most, 1),
                     "--flows", "leave it out"});
    }
    auto kept = load_checks(options.work.bench, options.work.checks);
    if (!kept) return fail(common, kept.fault());
    const auto readiness =
        readiness_of((*work)->description(), kept->checks, (*work)->started_at(), options.work.reason);
    if (!readiness) return fail(common, readiness.fault(), ExitCode::bench_fault);
    PumpCalibrator calibrator(options, **work);
    const Outcome done = (*work)->carry_out([&] { return calibrator.perform(); });
    if (!done) {
        const bool by_hand = done.fault().code == FaultCode::interrupted;
        return fail(common, done.fault(), by_hand ? ExitCode::interrupted : ExitCode::bench_fault);
    }
    bench::PumpCalibration pump;
    pump.at = (*work)->started_at();
    pump.serial = (*work)->instrument("pump")->serial;
    pump.tube_h = options.tube_h;
    if (const auto known = kept->checks.tube(pump.serial); !pump.tube_h && known && known->whole)
        pump.tube_h = known->hours;
    pump.points = calibrator.points();
    summarise(pump);
    kept->checks.pumps.push_back(pump);
    kept->checks.add({pump.at, pump.serial, calibrator.hours()});
    if (Outcome saved = save_checks(*kept); !saved) return fail(common, saved.fault());
    print(common, pump, kept->file);
    return ExitCode::done;
}

}  // namespace

void add_pump_calibration(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "pump-calibration",
        "Weigh what the pump delivers at some flows; later runs start from the result", pump_calibration);
    add_work(command, options->work, "Gauge that stands on it; each weighing ends on one of its tips");
    add_reason(command, options->work);
    command.add_option("--flows", options->flows_mL_min, "Flows to set, mL/min")
        .in_range(0.1, 20000.0)
        .values(1, 20)
        .show_default();
    command.add_option("--target", options->target_percent, "Standard uncertainty to reach at each flow, %")
        .in_range(0.01, 10.0)
        .show_default();
    command.add_option("--longest", options->longest_s, "Longest time at each flow, s")
        .in_range(10.0, 86400.0)
        .show_default();
    command.add_option("--tube-h", options->tube_h, "Hours the tube has run").in_range(0.0, 1e5);
}

}  // namespace tipwright::program
