// bench-check: the command line, what is kept of earlier checks, and how it is told; what is done with the
// bench is exercise_bench.
#include <algorithm>
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
#include "bench/program/instruments/exercise_bench.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/instruments/workbench.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

struct BenchCheckOptions {
    WorkbenchOptions work;
    ExerciseOptions exercise;
    BenchCheckSheet sheet;
};

using calib::fixed;

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
    double pump_limit_s = 0;
    const Outcome done =
        (*work)->carry_out([&] { return exercise_bench(options.exercise, **work, table, pump_limit_s); });
    const auto write = [&](const std::string& failed) {
        return write_sheet(common, options.sheet, **work, {table, readiness->remarks, failed, pump_limit_s});
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
    command.add_option("--watch", options->exercise.balance_s, "How long the balance is watched, s")
        .in_range(5.0, 3600.0)
        .show_default();
    command.add_option("--flow", options->exercise.flow_mL_min, "Flow of the pump, mL/min")
        .in_range(1.0, 20000.0)
        .show_default();
    command
        .add_option("--volume-mL", options->exercise.volume_mL,
                    "Volume to pump, mL; at least four tips are pumped")
        .in_range(1.0, 5000.0)
        .show_default();
    command.add_flag("--without-water", options->exercise.without_water, "Leave the pump at rest");
    command.add_flag("--without-contacts", options->exercise.without_contacts,
                     "Do not wait for contacts moved by hand");
    add_sheet(command, options->sheet);
}

}  // namespace tipwright::program
