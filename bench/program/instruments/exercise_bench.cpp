#include "bench/program/instruments/exercise_bench.hpp"

#include <algorithm>
#include <cmath>
#include <string>

#include "bench/program/instruments/weighing_window.hpp"
#include "bench/program/instruments/work_vessel.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

using calib::fixed;

constexpr double tip_by_hand_limit_s = 60;  // to tip the bucket by hand
constexpr double weighing_s = 5;  // of what was delivered; no longer than it was seen to stand still
constexpr const char* no_time_limit_words =
    "NONE: it runs on if this program is killed or the computer dies; keep its plug within reach, and a "
    "float switch in "
    "the drip tray that cuts its mains";
constexpr int least_tips = 4;  // a smaller volume says more of the bucket than of the pump

class BenchExercise {
public:
    BenchExercise(const ExerciseOptions& options, Workbench& work, CheckTable& table, double& pump_limit_s)
        : options_(options), work_(work), table_(table), pump_limit_s_(pump_limit_s) {}

    bench::Task<Outcome> perform() {
        const bench::Lane lane = work_.lane();
        co_await identify("balance", lane.balance);
        co_await identify("pump", lane.pump);
        co_await identify("counter", lane.counter);
        if (lane.climate != nullptr) co_await identify("climate", *lane.climate);
        // Whoever had the pump before may have left it running: the guard stops it first.
        const Outcome taken = co_await work_.take_permit();
        if (!taken) {
            table_.add({"pump", "stops", taken.fault().what, "", CheckVerdict::failed});
            co_return Done{};
        }
        const double limit_s = pump_limit_s_ = lane.pump.own_timeout_s();
        table_.add({"pump", "own time limit",
                    limit_s > 0 ? "armed: stops by itself after " + fixed(limit_s, 1) + " s of silence"
                                : std::string(no_time_limit_words),
                    "", limit_s > 0 ? CheckVerdict::ok : CheckVerdict::told});
        co_await watch_balance();
        if (lane.climate != nullptr) co_await read_climate(*lane.climate);
        if (options_.without_water) {
            table_.add({"pump", "delivers", "without water", "", CheckVerdict::skipped});
        } else {
            const Outcome pumped = co_await pump_some();
            if (!pumped) co_return pumped;
        }
        work_.guard().interlocks().begin_emptying();  // hands are at the gauge from here on
        co_await watch_contacts();
        judge_counter();
        co_return Done{};
    }

private:
    bench::Task<void> identify(std::string role, bench::Instrument& instrument) {
        double asked_s = work_.clock().now_s();
        Result<std::string> answer = co_await instrument.identify();
        // An instrument that is read by asking may be asked for a reading meanwhile: the later question wins.
        for (int again = 0; again < 3 && !answer && answer.fault().code == FaultCode::interrupted; ++again) {
            asked_s = work_.clock().now_s();
            answer = co_await instrument.identify();
        }
        // It took two answers to know a pump; one more is timed.
        if (answer && &instrument == &work_.lane().pump) {
            asked_s = work_.clock().now_s();
            answer = co_await instrument.identify();
        }
        const double took_ms = 1000 * (work_.clock().now_s() - asked_s);
        if (answer) {
            table_.add({role, "says it is", *answer, "", CheckVerdict::ok});
            table_.add({role, "answers in", fixed(took_ms, 0) + " ms", "", CheckVerdict::ok});
        } else {
            const bool unasked = answer.fault().code == FaultCode::inconsistent;
            table_.add({role, "says it is", unasked ? "its profile cannot ask" : answer.fault().what, "",
                        unasked ? CheckVerdict::told : CheckVerdict::failed});
        }
    }

    bench::Task<void> watch_balance() {
        work_.tell("Watching the balance for " + fixed(options_.balance_s, 0) + " s; touch nothing.");
        const double from_s = work_.clock().now_s();
        co_await work_.clock().sleep_for(options_.balance_s);
        const auto window = weighing_window(work_.seen().weights, from_s, work_.clock().now_s());
        if (window.readings < 3) {
            const auto& fault = work_.seen().balance_fault;
            table_.add({"balance", "reads",
                        fault ? fault->what : std::to_string(window.readings) + " readings", "",
                        CheckVerdict::failed});
            co_return;
        }
        const auto& balance = work_.description().metrology.balance;
        table_.add(
            {"balance", "readings",
             std::to_string(window.readings) + ", longest pause " + fixed(window.longest_gap_s, 2) + " s", "",
             CheckVerdict::ok});
        // Twice what its certificate says: a standard deviation of so many readings is itself uncertain, and
        // the certificate's was found in a better place.
        const double noise_max_g =
            2 * std::hypot(balance.repeatability_g, balance.resolution_g / std::sqrt(12.0));
        table_.add({"balance", "noise", fixed(window.noise_g, 4) + " g",
                    "up to " + fixed(noise_max_g, 4) + " g",
                    window.noise_g <= noise_max_g ? CheckVerdict::ok : CheckVerdict::failed});
        const auto& evaporation = work_.description().metrology.evaporation_g_h;
        const double drift_max_g_h = balance.zero_drift_half_width_g_h + evaporation.value +
                                     2 * evaporation.u + drift_seen_u_g_h(window);
        table_.add({"balance", "drift", fixed(window.drift_g_h, 2) + " g/h",
                    "up to " + fixed(drift_max_g_h, 2) + " g/h",
                    std::abs(window.drift_g_h) <= drift_max_g_h ? CheckVerdict::ok : CheckVerdict::failed});
    }

    // Slow wander makes neighbours alike, so the line's own uncertainty is too small: the repeatability
    // between both ends of the minute bounds it.
    double drift_seen_u_g_h(const WeighingWindow& window) const {
        const double ends_g = 2 * work_.description().metrology.balance.repeatability_g;
        return 2 * std::hypot(window.drift_u_g_h, ends_g / std::max(window.span_s, 1.0) * 3600);
    }

    bench::Task<void> read_climate(bench::ClimateSensor& climate) {
        const Result<bench::ClimateReading> reading = co_await climate.read();
        if (reading) {
            table_.add({"climate", "reads",
                        "water " + fixed(reading->water_temperature_C, 1) + " C, air " +
                            fixed(reading->air_temperature_C, 1) + " C, " +
                            fixed(reading->air_pressure_hPa, 0) + " hPa, " +
                            fixed(reading->relative_humidity_percent, 0) + " %",
                        "", CheckVerdict::ok});
        } else {
            table_.add({"climate", "reads", reading.fault().what, "", CheckVerdict::failed});
        }
    }

    bench::Task<Outcome> pump_some() {
        const double flow = std::min(options_.flow_mL_min, work_.description().max_flow_mL_min);
        const double tip_mL = work_.gauge_given() ? work_.gauge().gauge.nominal_tip_mL() : 0;
        const double slug_mL = tip_mL + (work_.gauge_given() ? work_.gauge().gauge.siphon_volume_mL : 0);
        const double volume_mL = std::max(options_.volume_mL, least_tips * tip_mL);
        if (volume_mL > work_.description().vessel_capacity_g) {
            co_return Fault{FaultCode::bad_value, fixed(volume_mL, 0) + " mL do not fit into the vessel",
                            "--volume-mL", "pump less"};
        }
        WorkVessel vessel(work_);
        if (const Outcome emptied = co_await vessel.empty(volume_mL + slug_mL); !emptied) co_return emptied;
        work_.tell("Pumping " + fixed(volume_mL, 0) + " mL at " + fixed(flow, 0) + " mL/min.");
        const double before_s = work_.clock().now_s();
        co_await work_.clock().sleep_for(2);
        const auto before = weighing_window(work_.seen().weights, before_s, work_.clock().now_s());
        first_edge_ = work_.seen().edges.size();
        const Outcome set = co_await work_.let_flow(flow);
        if (!set) co_return set;
        co_await work_.clock().sleep_for(60 * volume_mL / flow);
        const Outcome stopped = co_await work_.guard().stop();
        if (!stopped) co_return stopped;
        const bool quiet = co_await work_.guard().confirm_stopped(true);
        const double after_s = work_.clock().now_s();
        const auto after = weighing_window(work_.seen().weights, after_s - weighing_s, after_s);
        table_.add({"pump", "stops", quiet ? "the balance is steady" : "the balance is not steady", "",
                    quiet ? CheckVerdict::ok : CheckVerdict::failed});
        if (!quiet)
            co_return Fault{FaultCode::water_behind,
                            "the balance does not confirm that the water has stopped", "pump",
                            "pull its plug if it runs; look for a leak of the vessel or its drain"};
        if (before.readings == 0 || after.readings == 0) {
            table_.add({"pump", "delivers", "the balance gave no reading", "", CheckVerdict::failed});
            co_return Done{};
        }
        const double delivered_mL = after.mean_g - before.mean_g;  // grams for mL: a per cent is enough here
        // A dry gauge keeps some, and what is in bucket and siphon has not come out.
        const double low_mL = 0.75 * volume_mL - slug_mL - 5;
        const double high_mL = 1.25 * volume_mL + slug_mL;
        table_.add({"pump", "delivers",
                    fixed(delivered_mL, 1) + " mL in " + fixed(60 * volume_mL / flow, 0) + " s",
                    fixed(std::max(low_mL, 1.0), 1) + " to " + fixed(high_mL, 1) + " mL",
                    delivered_mL >= std::max(low_mL, 1.0) && delivered_mL <= high_mL ? CheckVerdict::ok
                                                                                     : CheckVerdict::failed});
        co_return Done{};
    }

    std::size_t contacts() const { return work_.gauge_given() ? work_.gauge().gauge.contacts.size() : 1; }

    bool moved(int contact) const {
        bool closed = false;
        bool opened = false;
        for (std::size_t i = first_edge_; i < work_.seen().edges.size(); ++i) {
            const auto& edge = work_.seen().edges[i];
            if (edge.contact != contact) continue;
            (edge.closed ? closed : opened) = true;
        }
        return closed && opened;
    }

    bool all_moved() const {
        for (std::size_t i = 0; i < contacts(); ++i) {
            if (!moved(static_cast<int>(i) + 1)) return false;
        }
        return true;
    }

    bench::Task<void> watch_contacts() {
        const bool by_water = all_moved();
        const bool somebody_there = work_.lockstep_bench() == nullptr;
        if (!by_water && !options_.without_contacts && somebody_there) {
            work_.tell("Tip the bucket by hand, to both sides, until every contact was seen (" +
                       fixed(tip_by_hand_limit_s, 0) + " s).");
            const double limit_s = work_.clock().now_s() + tip_by_hand_limit_s;
            while (!all_moved() && work_.clock().now_s() < limit_s) co_await work_.clock().sleep_for(0.2);
        }
        for (std::size_t i = 0; i < contacts(); ++i) {
            const int contact = static_cast<int>(i) + 1;
            int closed = 0;
            int opened = 0;
            for (std::size_t k = first_edge_; k < work_.seen().edges.size(); ++k) {
                const auto& edge = work_.seen().edges[k];
                if (edge.contact == contact) ++(edge.closed ? closed : opened);
            }
            const bool seen = closed > 0 && opened > 0;
            const bool skipped = !seen && options_.without_contacts;
            table_.add({"contact " + std::to_string(contact), by_water ? "moved by water" : "moved by hand",
                        std::to_string(closed) + " times closed, " + std::to_string(opened) + " times opened",
                        "",
                        seen      ? CheckVerdict::ok
                        : skipped ? CheckVerdict::skipped
                                  : CheckVerdict::failed});
        }
    }

    void judge_counter() {
        const auto& fault = work_.seen().counter_fault;
        table_.add({"counter", "speaks", fault ? fault->what : std::string("no line lost, never silent"), "",
                    fault ? CheckVerdict::failed : CheckVerdict::ok});
    }

    const ExerciseOptions& options_;
    Workbench& work_;
    CheckTable& table_;
    double& pump_limit_s_;
    std::size_t first_edge_ = 0;
};

}  // namespace

bench::Task<Outcome> exercise_bench(const ExerciseOptions& options, Workbench& work, CheckTable& table,
                                    double& pump_limit_s) {
    BenchExercise exercise(options, work, table, pump_limit_s);
    co_return co_await exercise.perform();
}

}  // namespace tipwright::program
