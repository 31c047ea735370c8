#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/command.hpp"
#include "bench/program/instruments/commands.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/instruments/weighing_window.hpp"
#include "bench/program/instruments/workbench.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

struct BalanceCheckOptions {
    WorkbenchOptions work;
    double mass_g = 0;
    double mass_u_g = 0;
    std::optional<double> limit_g;
};

using calib::fixed;

constexpr double window_s = 10;  // of each mean
constexpr double rest_s = 5;     // between the hand and the window
constexpr double hand_limit_s = 180;
constexpr double look_s = 2;

class BalanceChecker {
public:
    BalanceChecker(const BalanceCheckOptions& options, Workbench& work) : options_(options), work_(work) {}

    bench::Task<Outcome> perform() {
        // No water is wanted, and none shall drop onto the pan meanwhile. Hands move it.
        work_.guard().interlocks().begin_emptying();
        const Outcome taken = co_await work_.take_permit();
        if (!taken) co_return taken;
        work_.tell("Weighing the pan as it stands; touch nothing.");
        Result<WeighingWindow> before = co_await weigh();
        if (!before) co_return before.fault();
        Outcome placed =
            co_await hand(before->mean_g + options_.mass_g, options_.mass_g,
                          "Put the reference mass of " + fixed(options_.mass_g, 3) + " g on the pan.");
        if (!placed) co_return placed;
        Result<WeighingWindow> loaded = co_await weigh();
        if (!loaded) co_return loaded.fault();
        placed = co_await hand(before->mean_g, 0, "Take it off.");
        if (!placed) co_return placed;
        Result<WeighingWindow> after = co_await weigh();
        if (!after) co_return after.fault();
        // The zero before and after halves a steady drift.
        error_g_ = loaded->mean_g - (before->mean_g + after->mean_g) / 2 - options_.mass_g;
        zero_moved_g_ = after->mean_g - before->mean_g;
        const auto& balance = work_.description().metrology.balance;
        const double step_u = balance.resolution_g / std::sqrt(12.0);
        // Each mean is one weighing: what makes weighings differ does not average out within ten seconds.
        const double weighing_u = std::hypot(balance.repeatability_g, step_u);
        error_u_g_ = std::sqrt(1.5 * weighing_u * weighing_u + options_.mass_u_g * options_.mass_u_g +
                               zero_moved_g_ * zero_moved_g_ / 12);
        co_return Done{};
    }

    double error_g() const { return error_g_; }
    double error_u_g() const { return error_u_g_; }
    double zero_moved_g() const { return zero_moved_g_; }

    // What the balance's own certificate allows at this load, and the check itself, at k = 2.
    double limit_g() const {
        if (options_.limit_g) return *options_.limit_g;
        const auto& balance = work_.description().metrology.balance;
        const double parts[] = {
            balance.linearity_half_width_g / std::sqrt(3.0), balance.calibration_relative_u * options_.mass_g,
            balance.drift_relative_half_width * options_.mass_g / std::sqrt(3.0), error_u_g_};
        double sum = 0;
        for (const double part : parts) sum += part * part;
        return 2 * std::sqrt(sum);
    }

private:
    bench::Task<Result<WeighingWindow>> weigh() {
        co_await work_.clock().sleep_for(rest_s);
        const double from_s = work_.clock().now_s();
        co_await work_.clock().sleep_for(window_s);
        const auto window = weighing_window(work_.seen().weights, from_s, work_.clock().now_s());
        if (window.readings < 3) {
            const auto& fault = work_.seen().balance_fault;
            co_return fault
                ? *fault
                : Fault{FaultCode::no_answer, "too few readings came", "balance", "check power and cable"};
        }
        co_return window;
    }

    // Waits until the display stands near what is expected, so that nobody needs to touch a keyboard.
    bench::Task<Outcome> hand(double expected_g, double put_on_g, std::string words) {
        work_.tell(words);
        if (auto* simulated = work_.lockstep_bench()) {
            simulated->physics().advance_to(work_.clock().now_s());
            simulated->physics().put_on_pan(put_on_g);
        }
        const double near_g = std::max(0.05 * options_.mass_g, 0.5);
        const double limit_s = work_.clock().now_s() + hand_limit_s;
        while (work_.clock().now_s() < limit_s) {
            co_await work_.clock().sleep_for(look_s);
            const double now_s = work_.clock().now_s();
            const auto window = weighing_window(work_.seen().weights, now_s - look_s, now_s);
            if (window.readings > 0 && std::abs(window.mean_g - expected_g) <= near_g) co_return Done{};
        }
        co_return Fault{FaultCode::time_limit,
                        "the balance did not come to " + fixed(expected_g, 2) + " g within " +
                            fixed(hand_limit_s, 0) + " s",
                        "balance", "check the mass given with --mass-g"};
    }

    const BalanceCheckOptions& options_;
    Workbench& work_;
    double error_g_ = 0;
    double error_u_g_ = 0;
    double zero_moved_g_ = 0;
};

ExitCode balance_check(const CommonOptions& common, const BalanceCheckOptions& options) {
    const auto work = Workbench::open(common, options.work);
    if (!work) {
        const bool lost = work.fault().code == FaultCode::link_lost;
        return fail(common, work.fault(), lost ? ExitCode::bench_fault : ExitCode::bad_input);
    }
    const double capacity_g = (*work)->description().metrology.balance.capacity_g;
    if (options.mass_g > capacity_g) {
        return fail(common,
                    {FaultCode::bad_value,
                     fixed(options.mass_g, 1) + " g is above the balance's " + fixed(capacity_g, 1) + " g",
                     "--mass-g", "take a smaller mass"});
    }
    auto kept = load_checks(options.work.bench, options.work.checks);
    if (!kept) return fail(common, kept.fault());
    BalanceChecker checker(options, **work);
    const Outcome done = (*work)->carry_out([&] { return checker.perform(); });
    if (!done) {
        const bool by_hand = done.fault().code == FaultCode::interrupted;
        return fail(common, done.fault(), by_hand ? ExitCode::interrupted : ExitCode::bench_fault);
    }
    const bench::BalanceCheck check{(*work)->started_at(), (*work)->instrument("balance")->serial,
                                    options.mass_g,        options.mass_u_g,
                                    checker.error_g(),     checker.error_u_g(),
                                    checker.limit_g(),     std::abs(checker.error_g()) <= checker.limit_g()};
    kept->checks.balances.push_back(check);
    if (Outcome saved = save_checks(*kept); !saved) return fail(common, saved.fault());
    if (common.json) {
        const nlohmann::ordered_json document = {{"ok", check.passed},
                                                 {"at", check.at},
                                                 {"balance", check.serial},
                                                 {"mass_g", check.mass_g},
                                                 {"error_g", check.error_g},
                                                 {"error_u_g", check.error_u_g},
                                                 {"limit_g", check.limit_g},
                                                 {"zero_moved_g", checker.zero_moved_g()},
                                                 {"kept_in", kept->file.string()}};
        print_json(document);
    } else {
        print_to(stdout, "\nerror %s g at %s g (U %s g, k = 2); allowed %s g: %s\n",
                 fixed(check.error_g, 4).c_str(), fixed(check.mass_g, 3).c_str(),
                 fixed(2 * check.error_u_g, 4).c_str(), fixed(check.limit_g, 4).c_str(),
                 check.passed ? "passed" : "FAILED");
        print_to(stdout, "zero moved by %s g\n%s\n", fixed(checker.zero_moved_g(), 4).c_str(),
                 kept->file.empty()
                     ? "not kept, because the bench is a template; to keep it, give --checks FILE"
                     : ("kept in " + kept->file.string()).c_str());
    }
    if (check.passed) return ExitCode::done;
    print_to(stderr, "tipwright: the balance failed its check: no run until it passes one\n");
    return ExitCode::bench_fault;
}

}  // namespace

void add_balance_check(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "balance-check",
        "Weigh a reference mass; a balance that fails is not used until it passes", balance_check);
    add_work(command, options->work, "Gauge on a virtual bench");
    command.add_option("--mass-g", options->mass_g, "Conventional mass of the reference mass, g")
        .required()
        .in_range(0.1, 1e5);
    command.add_option("--mass-u-g", options->mass_u_g, "Its standard uncertainty, g").in_range(0.0, 100.0);
    command
        .add_option("--limit-g", options->limit_g,
                    "Allowed error, g (default: what the balance's certificate allows at that load, k = 2)")
        .in_range(0.0, 1000.0);
}

}  // namespace tipwright::program
