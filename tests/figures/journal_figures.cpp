// The journal: how fast it is kept, beside a bare loop of write and fdatasync in the same run, and how fast
// and in how much memory a long one is read, recovered and evaluated. The long journal is that of a real run
// on the virtual bench with 20 balance readings a second, of a million entries; the short one of a tenth.
#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <chrono>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <functional>
#include <string>

#include "bench/journal/reader.hpp"
#include "bench/journal/writer.hpp"
#include "bench/program/run/lane.hpp"
#include "bench/run/recovery.hpp"
#include "bench/run/replay.hpp"
#include "calib/decision/evaluation.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
namespace asio = boost::asio;
namespace fs = std::filesystem;

namespace {

constexpr int rounds = 5;

bool all_ok = true;

void figure(const std::string& name, double value, const char* unit, const char* op, double limit) {
    all_ok = test::figure("journal_" + name, value, unit, op, limit, 6) && all_ok;
}

double seconds_of(const std::function<void()>& work) {
    const auto begin = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

double best_of(const std::function<void()>& work) {
    double best_s = 1e9;
    for (int k = 0; k < rounds; ++k) best_s = std::min(best_s, seconds_of(work));
    return best_s;
}

double best_processor_s_of(const std::function<void()>& work) {
    double best_s = 1e9;
    for (int k = 0; k < rounds; ++k) {
        const std::clock_t begin = std::clock();
        work();
        best_s = std::min(best_s, static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC);
    }
    return best_s;
}

// Entries a second, each on the disk before the next: a bare loop, and the journal.
void kept(const fs::path& folder) {
    constexpr int entries = 400;
    double bare_per_s = 0;
    double journal_per_s = 0;
    double grouped_per_s = 0;
    for (int round = 0; round < rounds; ++round) {
        const fs::path bare = folder / "bare";
        const int descriptor =
            ::open(bare.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_APPEND | O_CLOEXEC, 0644);
        const std::string line =
            "5710 1041.205 weight mass_g=123.86 stable=true text=\"W  123.86 g stable\" *32f02a2e\n";
        bare_per_s = std::max(bare_per_s, entries / seconds_of([&] {
                                              for (int k = 0; k < entries; ++k) {
                                                  if (::write(descriptor, line.data(), line.size()) < 0 ||
                                                      ::fdatasync(descriptor) != 0)
                                                      std::abort();
                                              }
                                          }));
        ::close(descriptor);
        const auto journal_rate = [&](bool sync_each, int count) {
            const fs::path file = folder / "journal.twj";
            fs::remove(file);
            auto journal = bench::JournalWriter::create(file, {true, 0.5});
            const double seconds = seconds_of([&] {
                for (int k = 0; k < count; ++k) {
                    static_cast<void>((*journal)->append(
                        k, "weight", {{"mass_g", 123.86}, {"stable", true}, {"text", "W  123.86 g stable"}}));
                    if (sync_each) static_cast<void>((*journal)->sync());
                }
                static_cast<void>((*journal)->sync());
            });
            return count / seconds;
        };
        journal_per_s = std::max(journal_per_s, journal_rate(true, entries));
        grouped_per_s = std::max(grouped_per_s, journal_rate(false, 100 * entries));
    }
    figure("bare_append_fdatasync", bare_per_s, "1/s", ">=", 0);
    figure("append_and_sync", journal_per_s, "1/s", ">=", 0.85 * bare_per_s);
    figure("append_and_sync_over_bare", journal_per_s / bare_per_s, "1", ">=", 0.85);
    figure("append_group_commit", grouped_per_s, "1/s", ">=", 0.5 * bare_per_s);
}

std::string plan_of(int steps) {
    std::string text =
        "title = \"Long\"\ntarget_U_percent = 0.05\ncoverage = 0.95\n[wetting]\nintensity_mm_h = 60\ntips = "
        "8\n"
        "[settle]\ntips = 2\ntime_s = 10\n";
    for (int k = 0; k < steps; ++k) {
        text += "[[step]]\nintensity_mm_h = " + std::to_string(30 + k) +
                "\nmin_tips = 1000\ntime_limit_s = 1500\n";
    }
    return text;
}

// The journal of a run of so many steps of 25 minutes.
bool make_journal(const fs::path& file, int steps) {
    const fs::path templates = fs::path(tipwright::test::source_dir()) / "templates";
    auto bench_text = bench::load_bench("virtual-bench", templates)->text;
    const std::string rate = "balance_rate_hz = 5 ";
    const auto at = bench_text.text.find("balance_rate_hz = 5");
    bench_text.text.replace(at, rate.size() - 1, "balance_rate_hz = 20");
    const auto bench = bench::parse_bench(bench_text);
    const auto gauge = bench::load_gauge("bucket-200-twin", templates);
    const auto plan = bench::parse_plan({"long.toml", plan_of(steps)});
    if (!bench || !gauge || !plan) {
        std::printf("# %s\n", (!bench   ? bench.fault()
                               : !gauge ? gauge.fault()
                                        : plan.fault())
                                  .line()
                                  .c_str());
        return false;
    }
    asio::io_context context(1);
    const auto clock = bench::make_lockstep_clock(context);
    auto instruments = program::LaneInstruments::make(context, *clock, *bench, *gauge, 1, templates);
    auto journal = bench::JournalWriter::create(file);
    if (!instruments || !journal) return false;
    bench::RunLog log(**journal);
    log.open(0, "test", "2026-11-02T08:00:00Z", "1");
    log.given(0, "bench", bench->text.name, bench->text.text);
    log.given(0, "gauge kind", gauge->kind_text.name, gauge->kind_text.text);
    log.given(0, "gauge", gauge->text.name, gauge->text.text);
    log.given(0, "plan", plan->text.name, plan->text.text);
    bench::RunControl control;
    bench::Supervision supervision(context, {});
    bench::RunEnd end;
    const auto perform = [&]() -> bench::Task<void> {
        end = co_await bench::perform_run(context, *clock, supervision, (*instruments)->lane(), gauge->gauge,
                                          *bench, plan->plan, log, control, {});
        if (end.complete) log.close(clock->now_s(), "2026-11-03T08:00:00Z", true, "done");
        (*instruments)->close();
        clock->stop();
    };
    asio::co_spawn(context, perform, [](const std::exception_ptr& error) {
        if (error) std::rethrow_exception(error);
    });
    clock->run();
    if (end.fault) std::printf("# the long run ended: %s\n", end.fault->line().c_str());
    return end.complete;
}

// Peak memory of a child that does the work, KiB.
long memory_KiB_of(const std::function<void()>& work) {
    std::fflush(stdout);
    const pid_t child = ::fork();
    if (child == 0) {
        work();
        std::_Exit(0);
    }
    int status = 0;
    rusage used{};
    ::wait4(child, &status, 0, &used);
    return used.ru_maxrss;
}

bool evaluate(const fs::path& file) {
    bench::Replay replay;
    const auto summary =
        bench::read_journal(file, [&](const bench::JournalEntry& entry) { return replay.take(entry); });
    if (!summary) return false;
    const auto run = replay.finish();
    return run &&
           calib::evaluate(run->observations, run->gauge.gauge, run->bench.metrology, run->plan.plan).ok();
}

void read(const fs::path& folder) {
    const fs::path long_one = folder / "long.twj";
    const fs::path short_one = folder / "short.twj";
    if (!make_journal(long_one, 32) || !make_journal(short_one, 3)) {
        all_ok = false;
        return;
    }
    const auto nothing = [](const bench::JournalEntry&) { return Outcome(Done{}); };
    const auto summary = bench::read_journal(long_one, nothing);
    const double megabytes = static_cast<double>(fs::file_size(long_one)) / 1e6;
    figure("long_entries", static_cast<double>(summary->entries), "1", ">=", 1e6);
    figure("long_size", megabytes, "MB", ">=", 0);
    const double scan_s = best_of([&] { static_cast<void>(bench::read_journal(long_one, nothing)); });
    figure("scan_of_a_million", scan_s * 1e6 / static_cast<double>(summary->entries), "s", "<=", 0.15);
    // Of the processor's time: what else runs on the machine is no property of the parser.
    const double processor_s =
        best_processor_s_of([&] { static_cast<void>(bench::read_journal(long_one, nothing)); });
    figure("scan_rate", megabytes / processor_s, "MB/s", ">=", 650);
    bool good = true;
    const double evaluation_s = best_of([&] { good = evaluate(long_one) && good; });
    figure("evaluation_of_a_million", good ? evaluation_s * 1e6 / static_cast<double>(summary->entries) : 1e9,
           "s", "<=", 0.15);
    // A crash cuts the closing line: the run is open, and every step is kept.
    fs::resize_file(long_one, fs::file_size(long_one) - 20);
    int first_step = 0;
    const double recovery_s = best_of([&] {
        const auto open = bench::open_run(long_one);
        first_step = open ? open->first_step : 0;
    });
    figure("recovery_scan_of_a_million",
           first_step == 33 ? recovery_s * 1e6 / static_cast<double>(summary->entries) : 1e9, "s",
           "<=", 0.15);
    const long short_KiB = memory_KiB_of([&] { static_cast<void>(evaluate(short_one)); });
    const long long_KiB = memory_KiB_of([&] { static_cast<void>(evaluate(long_one)); });
    figure("evaluation_memory_of_a_tenth", static_cast<double>(short_KiB) / 1024, "MiB", "<=", 64);
    figure("evaluation_memory_of_a_million", static_cast<double>(long_KiB) / 1024, "MiB", "<=", 64);
    figure("evaluation_memory_long_over_short",
           static_cast<double>(long_KiB) / static_cast<double>(short_KiB), "1", "<=", 1.5);
}

}  // namespace

int main() {
    const fs::path folder = fs::temp_directory_path() / ("tipwright-journal-" + std::to_string(::getpid()));
    fs::create_directories(folder);
    kept(folder);
    read(folder);
    fs::remove_all(folder);
    return all_ok ? 0 : 1;
}
