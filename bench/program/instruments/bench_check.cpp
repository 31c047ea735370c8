#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <string_view>

#include <boost/asio/io_context.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/links/link.hpp"
#include "bench/program/command.hpp"
#include "bench/program/instruments/bench_check_sheet.hpp"
#include "bench/program/instruments/check_table.hpp"
#include "bench/program/instruments/commands.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/instruments/weighing_window.hpp"
#include "bench/program/instruments/work_vessel.hpp"
#include "bench/program/instruments/workbench.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

struct BenchCheckOptions {
    WorkbenchOptions work;
    double balance_s = 60;  // how long the balance is watched
    double flow_mL_min = 60;
    double volume_mL = 30;
    bool without_water = false;
    bool without_contacts = false;
    BenchCheckSheet sheet;
};

using calib::fixed;

constexpr double hand_limit_s = 60;  // to tip the bucket by hand
constexpr double weighing_s = 5;     // of what was delivered; no longer than it was seen to stand still
constexpr const char* no_time_limit_words =
    "NONE: it runs on if this program is killed or the computer dies; keep its plug within reach, and a "
    "float switch in "
    "the drip tray that cuts its mains";
constexpr int least_tips = 4;  // a smaller volume says more of the bucket than of the pump

class BenchCheck {
public:
    BenchCheck(const BenchCheckOptions& options, Workbench& work, CheckTable& table)
        : options_(options), work_(work), table_(table) {}

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

    // The pump's own time limit, once it is armed; 0: none.
    double pump_limit_s() const { return pump_limit_s_; }

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
            co_return Fault{FaultCode::bad_value, fixed(volume_mL, 0) + " mL do not fit the vessel",
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
        table_.add({"pump", "stops", quiet ? "the balance stands still" : "the balance does not stand still",
                    "", quiet ? CheckVerdict::ok : CheckVerdict::failed});
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
                       fixed(hand_limit_s, 0) + " s).");
            const double limit_s = work_.clock().now_s() + hand_limit_s;
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

    const BenchCheckOptions& options_;
    Workbench& work_;
    CheckTable& table_;
    std::size_t first_edge_ = 0;
    double pump_limit_s_ = 0;
};

void add_kept(const Workbench& work, const KeptChecks& kept, CheckTable& table) {
    const auto* pump = work.instrument("pump");
    const auto* found = pump ? kept.checks.pump(pump->serial) : nullptr;
    table.add({"pump", "last calibration",
               found ? found->at.substr(0, 10) + ", scale " + fixed(found->scale, 4) + ", u " +
                           fixed(100 * found->relative_u, 2) + " %"
                     : std::string("none"),
               "", CheckVerdict::told});
    if (const auto tube = pump ? kept.checks.tube(pump->serial) : std::nullopt) {
        const double life_h = work.description().tube_life_h;
        table.add({"pump", "tube has run", tube_text(*tube),
                   life_h > 0 ? "up to " + fixed(life_h, 0) + " h" : "",
                   life_h <= 0             ? CheckVerdict::told
                   : tube->hours <= life_h ? CheckVerdict::ok
                                           : CheckVerdict::failed});
    }
    const auto* balance = work.instrument("balance");
    const auto* check = balance ? kept.checks.balance(balance->serial) : nullptr;
    table.add({"balance", "last check",
               check ? check->at.substr(0, 10) + ", " + fixed(check->error_g, 3) + " g at " +
                           fixed(check->mass_g, 1) + " g" + (check->passed ? "" : ", failed")
                     : std::string("none"),
               "", CheckVerdict::told});
}

// Each instrument that the bench description names or should name, and whether something is at its link. For
// a bench that cannot be opened; opens each link by itself and sends nothing.
void list_instruments(const CommonOptions& common, const BenchCheckOptions& options, CheckTable& table) {
    const auto bench = bench::load_bench(options.work.bench, common.templates);
    if (!bench) return;
    boost::asio::io_context context(1);
    for (const char* role : {"balance", "pump", "counter", "climate"}) {
        const auto& all = bench->instruments;
        const auto found =
            std::find_if(all.begin(), all.end(), [&](const auto& one) { return one.role == role; });
        if (found == all.end()) {
            const bool may_lack = std::string_view(role) == "climate";
            table.add({role, "is described",
                       may_lack ? "no; the conditions of the bench description hold" : "no", "",
                       may_lack ? CheckVerdict::told : CheckVerdict::failed});
            continue;
        }
        const auto profile = bench::load_profile(found->profile, common.templates);
        const std::string what = found->description.empty() ? found->profile : found->description;
        if (!profile) {
            table.add({role, what, profile.fault().what, "", CheckVerdict::failed});
            continue;
        }
        if (found->link == "virtual") {
            table.add({role, what, "virtual", "", CheckVerdict::ok});
            continue;
        }
        const auto link = bench::make_link(context, found->link, profile->serial);
        table.add({role, what, link ? "its link " + found->link + " opens" : "MISSING: " + link.fault().what,
                   "", link ? CheckVerdict::ok : CheckVerdict::failed});
    }
}

ExitCode bench_check(const CommonOptions& common, const BenchCheckOptions& options) {
    if (const Outcome ready = ready_to_write(common, options.sheet); !ready)
        return fail(common, ready.fault());
    const auto work = Workbench::open(common, options.work);
    if (!work) {
        const bool lost = work.fault().code == FaultCode::link_lost;
        CheckTable instruments;
        list_instruments(common, options, instruments);
        if (!common.json && instruments.any_failed()) instruments.print();
        return fail(common, work.fault(), lost ? ExitCode::bench_fault : ExitCode::bad_input);
    }
    const auto kept = load_checks(options.work.bench, options.work.checks);
    if (!kept) return fail(common, kept.fault());
    const auto readiness =
        readiness_of((*work)->description(), kept->checks, (*work)->started_at(), options.work.reason);
    if (!readiness) return fail(common, readiness.fault(), ExitCode::bench_fault);
    CheckTable table;
    if ((*work)->instrument("climate") == nullptr)
        table.add({"climate", "is described", "no; the conditions of the bench description hold", "",
                   CheckVerdict::told});
    for (const auto& by_hand : (*work)->description().hand_instruments)
        table.add({by_hand.role, "read by hand", by_hand.description, "", CheckVerdict::told});
    for (const auto& instrument : (*work)->description().instruments) {
        if (instrument.due_on.empty()) continue;
        const bool overdue = instrument.due_on < (*work)->started_at().substr(0, 10);
        table.add({instrument.role, "calibration due", instrument.due_on, "",
                   overdue ? CheckVerdict::accepted : CheckVerdict::ok});
    }
    BenchCheck check(options, **work, table);
    const Outcome done = (*work)->carry_out([&] { return check.perform(); });
    const auto write = [&](const std::string& failed) {
        return write_sheet(common, options.sheet, **work,
                           {table, readiness->remarks, failed, check.pump_limit_s()});
    };
    if (!done) {
        const bool by_hand = done.fault().code == FaultCode::interrupted;
        if (!common.json) table.print();
        if (!by_hand)
            if (const Outcome written = write(done.fault().line()); !written) fail(common, written.fault());
        return fail(common, done.fault(), by_hand ? ExitCode::interrupted : ExitCode::bench_fault);
    }
    add_kept(**work, *kept, table);
    if (const Outcome written = write(table.failed_ones()); !written) return fail(common, written.fault());
    if (common.json) {
        nlohmann::ordered_json document = {{"ok", !table.any_failed()},
                                           {"bench", (*work)->description().title},
                                           {"checked_at", (*work)->started_at()},
                                           {"accepted", readiness->remarks},
                                           {"checks", table.json()}};
        if (!options.sheet.out.empty()) document["page"] = options.sheet.out.string();
        print_json(document);
    } else {
        print_to(stdout, "\n%s, %s\n\n", visible((*work)->description().title).c_str(),
                 (*work)->started_at().c_str());
        table.print();
        for (const std::string& remark : readiness->remarks) print_to(stdout, "\n%s\n", remark.c_str());
        if (!options.sheet.out.empty()) print_to(stdout, "\nPage: %s\n", options.sheet.out.c_str());
    }
    if (!table.any_failed()) return ExitCode::done;
    print_to(stderr, "tipwright: not all is well: %s\n", table.failed_ones().c_str());
    return ExitCode::bench_fault;
}

}  // namespace

void add_bench_check(CommandLine& line) {
    const auto [command, options] = add_command(line, line.app, "bench-check",
                                                "Find and exercise every instrument of a bench", bench_check);
    add_work(command, options->work, "Gauge that stands on it, for its contacts and the size of a tip");
    add_reason(command, options->work);
    command.add_option("--watch", options->balance_s, "How long the balance is watched, s")
        ->check(CLI::Range(5.0, 3600.0))
        ->capture_default_str();
    command.add_option("--flow", options->flow_mL_min, "Flow of the pump, mL/min")
        ->check(CLI::Range(1.0, 20000.0))
        ->capture_default_str();
    command
        .add_option("--volume-mL", options->volume_mL, "Volume to pump, mL; at least four tips are pumped")
        ->check(CLI::Range(1.0, 5000.0))
        ->capture_default_str();
    command.add_flag("--without-water", options->without_water, "Leave the pump at rest");
    command.add_flag("--without-contacts", options->without_contacts,
                     "Do not wait for contacts moved by hand");
    add_sheet(command, options->sheet);
}

}  // namespace tipwright::program
