#include <unistd.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <csignal>
#include <cstdio>
#include <functional>

#include "bench/journal/writer.hpp"
#include "bench/program/commands.hpp"
#include "bench/program/evaluate_journal.hpp"
#include "bench/program/files.hpp"
#include "bench/program/lane.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/progress_view.hpp"
#include "bench/program/results.hpp"
#include "bench/program/version.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

// A virtual run is to be the same bytes for the same seed, so it does not ask the time of day.
constexpr const char* virtual_start = "2026-11-02T08:00:00Z";
constexpr const char* journal_name = "journal.twj";

struct Descriptions {
    bench::BenchDescription bench;
    bench::GaugeDescription gauge;
    bench::PlanDescription plan;
};

Result<Descriptions> load(const CommonOptions& common, const CalibrateOptions& options) {
    auto bench = bench::load_bench(options.bench, common.templates);
    if (!bench) return bench.fault();
    auto gauge = bench::load_gauge(options.gauge, common.templates);
    if (!gauge) return gauge.fault();
    auto plan = bench::load_plan(options.plan, common.templates);
    if (!plan) return plan.fault();
    if (!bench->truth && gauge->serial.empty()) {
        return Fault{FaultCode::missing_field, "the gauge has no serial number", gauge->kind_text.name,
                     "make a gauge file with kind, serial and customer: see templates/gauges"};
    }
    if (auto together = bench::check_together(*gauge, *plan, *bench); !together) return together.fault();
    if (options.speed && !bench->truth) {
        return Fault{FaultCode::usage, "--speed is for virtual benches; real water runs at its own",
                     "command line", "leave it out"};
    }
    return Descriptions{std::move(*bench), std::move(*gauge), std::move(*plan)};
}

Result<std::string> start_moment(const Descriptions& given, const CalibrateOptions& options) {
    if (!given.bench.truth) return utc_now();
    const std::string moment = options.started_at.empty() ? virtual_start : options.started_at;
    if (!later(moment, 0)) {
        return Fault{FaultCode::bad_value, "'" + moment + "' is no moment of time", "--started-at",
                     "write it as 2026-11-02T08:00:00Z"};
    }
    return moment;
}

void write_given(bench::RunLog& log, const Descriptions& given) {
    const auto write = [&](const std::string& what, const bench::DescriptionText& text) {
        log.given(0, what, text.name, text.text);
    };
    write("bench", given.bench.text);
    write("gauge kind", given.gauge.kind_text);
    write("gauge", given.gauge.text);
    write("plan", given.plan.text);
}

// The run itself: made ready, carried out, its journal closed. Everything after is computed from that.
Result<bench::RunEnd> carry_out(const CommonOptions& common, const CalibrateOptions& options,
                                const Descriptions& given, const std::string& started_at,
                                ProgressView& view) {
    const bool is_virtual = given.bench.truth.has_value();
    const bool lockstep = has_virtual_links(given.bench) && !options.speed;
    asio::io_context context(1);
    auto clock = lockstep ? bench::make_lockstep_clock(context)
                          : bench::make_wall_clock(context, options.speed.value_or(1));
    auto instruments =
        LaneInstruments::make(context, *clock, given.bench, given.gauge, options.seed, common.templates);
    if (!instruments) return instruments.fault();

    bench::JournalOptions journal_options;
    journal_options.durable = !lockstep;
    auto journal = bench::JournalWriter::create(options.out / journal_name, journal_options);
    if (!journal) return journal.fault();
    bench::RunLog log(**journal);
    log.open(0, version(), started_at, is_virtual ? std::to_string(options.seed) : "");
    write_given(log, given);

    bench::RunControl control;
    asio::signal_set signals(context, SIGINT, SIGTERM, SIGHUP);
    const std::function<void()> wait_for_signal = [&] {
        signals.async_wait([&](const boost::system::error_code& error, int) {
            if (error) return;
            const bool first = !control.requested();
            control.request_stop({FaultCode::interrupted, "stopped by the operator", "run", ""});
            if (first)
                view.message("Stopping the pump, then watching the balance; press again to leave at once.");
            wait_for_signal();
        });
    };
    wait_for_signal();

    bench::RunCallbacks callbacks;
    callbacks.progress = [&view](const bench::Progress& progress) { view.show(progress); };
    callbacks.message = [&view](const std::string& text) { view.message(text); };
    bench::RunEnd end;
    std::exception_ptr defect;
    const auto perform = [&]() -> bench::Task<void> {
        end = co_await bench::perform_run(context, *clock, (*instruments)->lane(), given.gauge.gauge,
                                          given.bench, given.plan.plan, log, control, callbacks);
        const std::string reason = end.fault ? end.fault->line() : "every step of the plan was measured";
        log.close(clock->now_s(), later(started_at, clock->now_s()).value_or(utc_now()), end.complete,
                  reason);
        if (log.failure() && end.complete) {
            end.complete = false;
            end.fault = log.failure();
        }
        signals.cancel();
        (*instruments)->close();
        clock->stop();
    };
    asio::co_spawn(context, perform, [&](const std::exception_ptr& error) {
        defect = error;
        if (error) clock->stop();
    });
    clock->run();
    view.finish();
    if (defect) std::rethrow_exception(defect);
    return end;
}

ExitCode exit_code_of(const Fault& fault) {
    return fault.code == FaultCode::interrupted ? ExitCode::interrupted : ExitCode::bench_fault;
}

std::string title_of(const Descriptions& given) {
    const std::string& serial = given.gauge.serial;
    return given.plan.plan.name + " on " + given.bench.title + ": gauge " +
           (serial.empty() ? "(no serial)" : serial) + ", " + given.gauge.kind_title;
}

}  // namespace

ExitCode calibrate(const CommonOptions& common, const CalibrateOptions& options) {
    const auto given = load(common, options);
    if (!given) return fail(common, given.fault());
    const auto started_at = start_moment(*given, options);
    if (!started_at) return fail(common, started_at.fault());
    if (auto made = make_folder(options.out); !made) return fail(common, made.fault());

    std::FILE* watch = common.json ? stderr : stdout;
    ProgressView view(watch, ::isatty(::fileno(watch)) != 0);
    if (!given->bench.truth) {
        view.message(
            "Mains power above and away from water; lift full vessels with care; keep the floor dry.");
    }
    view.head(title_of(*given));
    const auto end = carry_out(common, options, *given, *started_at, view);
    if (!end)
        return fail(common, end.fault(),
                    end.fault().code == FaultCode::interrupted ? ExitCode::interrupted : ExitCode::bad_input);
    const std::filesystem::path journal = options.out / journal_name;
    if (!end->complete) {
        if (!common.json)
            std::printf("\n%-12s %s (kept: %d of %zu steps)\n", "journal", journal.c_str(), end->steps_done,
                        given->plan.plan.steps.size());
        return fail(common, *end->fault, exit_code_of(*end->fault));
    }
    RecordOptions record_options;
    record_options.state = options.as_left ? report::State::as_left : report::State::as_found;
    const auto record = record_of_journal(journal, record_options);
    if (!record) return fail(common, record.fault(), ExitCode::incomplete);
    auto files = write_results(common, *record, options.out, options.paper);
    if (!files) return fail(common, files.fault());
    files->insert(files->begin(), {"journal", journal});
    print_results(common, *record, *files);
    return ExitCode::done;
}

}  // namespace tipwright::program
