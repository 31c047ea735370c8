#include "tests/support/fault_campaign.hpp"
#include "tests/support/paths.hpp"

#include <unistd.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <cerrno>
#include <cmath>
#include <filesystem>
#include <random>

#include "bench/journal/append_file.hpp"
#include "bench/journal/reader.hpp"
#include "bench/journal/writer.hpp"
#include "bench/program/run/lane.hpp"
#include "bench/run/replay.hpp"
#include "calib/decision/evaluation.hpp"

namespace tipwright::test {

namespace {

namespace asio = boost::asio;
namespace fs = std::filesystem;

// Two steps at lively rates: a run takes about six minutes of bench time and a fraction of a second of real
// time.
constexpr const char* plan_text = R"(title = "Fault campaign"
target_U_percent = 2.0
coverage = 0.95
[wetting]
intensity_mm_h = 220
tips = 8
[settle]
tips = 4
time_s = 12
[[step]]
intensity_mm_h = 90
min_tips = 10
time_limit_s = 400
[[step]]
intensity_mm_h = 240
min_tips = 20
time_limit_s = 300
)";
// Faults begin within this: the length of a healthy run.
constexpr double run_s = 420;
constexpr double never_s = 1e300;
// The instruments' own limits, from templates/instruments, and two prints for what is on its way.
constexpr double silence_limit_s = 5 + 0.5;
constexpr double counter_limit_s = 5 + 2;  // its heartbeat comes every two seconds
constexpr double garbage_limit_s = 5 + 0.5;

// Own draws from the engine's bits: the distributions of the standard library differ between libraries.
class Dice {
public:
    explicit Dice(std::uint64_t seed) : engine_(seed * 0x9E3779B97F4A7C15ull + 1) {}
    double uniform(double low, double high) {
        return low + (high - low) * static_cast<double>(engine_() >> 11) * 0x1p-53;
    }
    double log_uniform(double low, double high) { return std::exp(uniform(std::log(low), std::log(high))); }
    std::size_t below(std::size_t n) { return static_cast<std::size_t>(uniform(0, static_cast<double>(n))); }

private:
    std::mt19937_64 engine_;
};

struct TimedFault {
    const char* name;
    double bench::BenchFaults::*at_s;
    double sure_sign_after_s;
    bool of_the_gauge;
};

constexpr TimedFault timed_faults[] = {
    {"pump stall", &bench::BenchFaults::pump_stalls_at_s, never_s, false},
    {"pump refuses", &bench::BenchFaults::pump_refuses_at_s, never_s, false},
    {"empty reservoir", &bench::BenchFaults::reservoir_empties_at_s, never_s, false},
    {"blocked funnel", &bench::BenchFaults::funnel_blocks_at_s, never_s, false},
    {"stuck bucket", &bench::BenchFaults::bucket_sticks_at_s, never_s, true},
    {"leak", &bench::BenchFaults::vessel_leaks_at_s, never_s, false},
    {"counter silent", &bench::BenchFaults::counter_silent_at_s, counter_limit_s, false},
    {"clock step", &bench::BenchFaults::counter_clock_steps_at_s, never_s, false},
    {"phantom tips", &bench::BenchFaults::phantom_tips_at_s, never_s, true},
    {"missed closures", &bench::BenchFaults::contact_misses_at_s, never_s, true},
    {"bounce", &bench::BenchFaults::bounce_storms_at_s, never_s, true},
    {"balance garbles", &bench::BenchFaults::balance_garbles_at_s, garbage_limit_s, false},
    {"balance overload", &bench::BenchFaults::balance_overload_at_s, 2, false},
    {"balance jump", &bench::BenchFaults::balance_jumps_at_s, never_s, false},
};

const char* const link_roles[] = {"pump", "balance", "counter", "climate", "all"};

void harm_link(FaultCase& one, Dice& dice, const char* name, double bench::LinkFaults::*probability) {
    bench::LinkFaults harm;
    harm.role = link_roles[dice.below(5)];
    harm.from_s = dice.uniform(0, run_s);
    harm.until_s = dice.below(2) == 0 ? never_s : harm.from_s + dice.log_uniform(1, 100);
    harm.*probability = dice.log_uniform(1e-5, 0.1);
    one.bench.links.push_back(harm);
    one.faults.push_back(std::string(name) + " " + harm.role);
    one.from_s = std::min(one.from_s, harm.from_s);
    one.pump_may_be_out_of_reach |= harm.role == "pump" || harm.role == "all";
}

void silence(FaultCase& one, Dice& dice) {
    bench::LinkFaults harm;
    harm.role = link_roles[dice.below(5)];
    harm.from_s = dice.uniform(0, run_s);
    const bool for_good = dice.below(2) == 0;
    harm.until_s = for_good ? never_s : harm.from_s + dice.uniform(0.2, 20);
    harm.loss_probability = 1;
    one.bench.links.push_back(harm);
    one.faults.push_back("silence " + harm.role);
    one.from_s = std::min(one.from_s, harm.from_s);
    one.pump_may_be_out_of_reach |= harm.role == "pump" || harm.role == "all";
    if (!for_good) return;
    if (harm.role == "balance" || harm.role == "all")
        one.sure_sign_s = std::min(one.sure_sign_s, harm.from_s + silence_limit_s);
    if (harm.role == "counter") one.sure_sign_s = std::min(one.sure_sign_s, harm.from_s + counter_limit_s);
}

void slow_answers(FaultCase& one, Dice& dice) {
    bench::LinkFaults harm;
    harm.role = link_roles[dice.below(4)];
    harm.from_s = dice.uniform(0, run_s);
    // A pump slower than its profile promises (0.5 s) takes commands late too: that is a link that fails.
    harm.delay_s = dice.uniform(0.05, harm.role == "pump" ? 0.45 : 8);
    one.bench.links.push_back(harm);
    one.faults.push_back("slow " + harm.role);
    one.from_s = std::min(one.from_s, harm.from_s);
}

void disconnect(FaultCase& one, Dice& dice) {
    one.bench.link_lost_at_s = dice.uniform(0, run_s);
    one.bench.link_lost_role = link_roles[dice.below(5)];
    one.faults.push_back("disconnect " + one.bench.link_lost_role);
    one.from_s = std::min(one.from_s, one.bench.link_lost_at_s);
    one.pump_may_be_out_of_reach |= one.bench.link_lost_role == "pump" || one.bench.link_lost_role == "all";
}

// When the instruments' own limits have told of what has a sure sign, and slow lines have brought it.
void add_sure_signs(FaultCase& one) {
    double slow_s = 0;
    for (const auto& link : one.bench.links) slow_s = std::max(slow_s, link.delay_s);
    const auto sign = [&](double at_s, double after_s) {
        if (at_s >= 0) one.sure_sign_s = std::min(one.sure_sign_s, at_s + after_s + slow_s);
    };
    // A pump's dead link shows when it is next spoken to; the climate sensor is asked only between steps.
    if (one.bench.link_lost_role != "pump" && one.bench.link_lost_role != "climate")
        sign(one.bench.link_lost_at_s, 0.2);
    for (const TimedFault& fault : timed_faults) {
        if (fault.sure_sign_after_s < never_s) sign(one.bench.*fault.at_s, fault.sure_sign_after_s);
    }
}

void timed(FaultCase& one, Dice& dice, const TimedFault& fault) {
    const double at_s = dice.uniform(0, run_s);
    one.bench.*fault.at_s = at_s;
    one.faults.emplace_back(fault.name);
    one.from_s = std::min(one.from_s, at_s);
    one.gauge_is_at_fault |= fault.of_the_gauge;
    one.pump_refuses |= one.bench.pump_refuses_at_s >= 0;
    one.bench.vessel_leak_mL_min = dice.log_uniform(0.2, 30);
    one.bench.counter_clock_step_s = (dice.below(2) == 0 ? 1 : -1) * dice.log_uniform(0.01, 60);
    one.bench.phantom_tips_per_min = dice.log_uniform(0.3, 30);
    one.bench.contact_miss_probability = dice.log_uniform(0.02, 1);
    one.bench.contact_missing = 1 + static_cast<int>(dice.below(2));
    one.bench.bounce_storm_s = dice.log_uniform(0.02, 0.4);
    one.bench.balance_jump_g = (dice.below(2) == 0 ? 1 : -1) * dice.log_uniform(0.2, 50);
}

void disk(FaultCase& one, Dice& dice) {
    one.disk.after_bytes = 2000 + dice.below(400000);
    switch (dice.below(4)) {
        case 0:
            one.disk.write_error = ENOSPC;
            one.faults.emplace_back("ENOSPC");
            break;
        case 1:
            one.disk.write_error = EIO;
            one.faults.emplace_back("EIO");
            break;
        case 2:
            one.disk.sync_error = EIO;
            one.faults.emplace_back("EIO of sync");
            break;
        default:
            one.disk.at_once = 1 + dice.below(200);
            one.faults.emplace_back("short writes");
            break;
    }
}

// A disk that goes wrong after so many bytes. Written through at once, as durable journals are.
class FailingFile final : public bench::AppendFile {
public:
    FailingFile(std::unique_ptr<bench::AppendFile> file, const DiskFault& fault)
        : file_(std::move(file)), fault_(fault) {}
    std::string name() const override { return file_->name(); }
    ssize_t write(std::string_view bytes) override {
        const bool due = fault_.after_bytes > 0 && written_ + bytes.size() > fault_.after_bytes;
        if (due && fault_.write_error != 0) {
            const std::uint64_t room = fault_.after_bytes > written_ ? fault_.after_bytes - written_ : 0;
            if (room == 0 || fault_.write_error == EIO) {
                errno = fault_.write_error;
                return -1;
            }
            bytes = bytes.substr(0, room);
        }
        if (due && fault_.at_once > 0) bytes = bytes.substr(0, fault_.at_once);
        const ssize_t count = file_->write(bytes);
        if (count > 0) written_ += static_cast<std::uint64_t>(count);
        return count;
    }
    int sync() override {
        if (fault_.sync_error != 0 && written_ > fault_.after_bytes) {
            errno = fault_.sync_error;
            return -1;
        }
        return 0;
    }
    int cut(std::uint64_t bytes) override { return file_->cut(bytes); }

private:
    std::unique_ptr<bench::AppendFile> file_;
    DiskFault fault_;
    std::uint64_t written_ = 0;
};

// Looks at the pump ten times a second; the physics is the same whoever looks when.
bench::Task<void> watch_pump(bench::Clock& clock, bench::BenchPhysics& physics, const bool& over,
                             double& ran_until_s) {
    while (!over) {
        physics.advance_to(clock.now_s());
        if (physics.pump().commanded_mL_min() > 0) ran_until_s = clock.now_s();
        co_await clock.sleep_for(0.1);
    }
}

struct Given {
    bench::GaugeDescription gauge;
    bench::BenchDescription bench;
    bench::PlanDescription plan;
};

Given given_for(const FaultCase& one, const fs::path& templates) {
    auto bench = bench::load_bench("virtual-bench", templates);
    if (one.pump_stops_by_itself) {
        bench::DescriptionText text = bench->text;
        const std::string plain = "\"generic-pump-ascii\"";
        text.text.replace(text.text.find(plain), plain.size(), "\"generic-pump-ascii-timeout\"");
        bench = bench::parse_bench(text);
    }
    return {*bench::load_gauge(one.gauge, templates), *bench,
            *bench::parse_plan({"campaign.toml", plan_text})};
}

void judge(const bench::ReplayedRun& run, const Given& given, bench::VirtualBench& truth,
           CaseResult& result) {
    const auto& discharges = truth.physics().discharges();
    for (const auto& step : run.observations) {
        const double shift_s = std::min(0.6, 0.5 * *step.duration_s / step.tips);
        const double from_s = step.started_s + shift_s;
        const auto really =
            std::count_if(discharges.begin(), discharges.end(), [&](const bench::Discharge& discharge) {
                return discharge.time_s > from_s && discharge.time_s <= from_s + *step.duration_s;
            });
        if (step.findings.empty())
            result.tips_lost_unnoticed += std::max(0, static_cast<int>(really) - step.tips);
    }
    if (!run.complete) return;
    const auto evaluation =
        calib::evaluate(run.observations, given.gauge.gauge, given.bench.metrology, given.plan.plan);
    if (!evaluation) {
        result.end += " [" + evaluation.fault().line() + "]";
        return;
    }
    result.certificate = true;
    result.named = !evaluation->findings.empty() || !run.findings.empty();
    for (const auto& step : evaluation->steps) {
        const double true_percent = truth.curve().error_percent(step.flow_mL_min->value / 60);
        result.worst_in_U = std::max(
            result.worst_in_U, std::abs(step.error_percent.value - true_percent) / step.error_expanded.U);
    }
}

}  // namespace

FaultCase make_fault_case(std::uint64_t seed) {
    Dice dice(seed);
    FaultCase one;
    one.seed = seed;
    constexpr const char* gauges[] = {"bucket-150", "bucket-200-twin", "siphon-200", "magnet-spoon-160"};
    one.gauge = gauges[dice.below(4)];
    one.pump_stops_by_itself = dice.below(2) == 0;
    constexpr std::size_t timed_count = std::size(timed_faults);
    // One run in twenty is healthy, one in four has two faults.
    const double share = dice.uniform(0, 1);
    const int count = share < 0.05 ? 0 : share < 0.75 ? 1 : 2;
    for (int k = 0; k < count; ++k) {
        const std::size_t kind = dice.below(9 + timed_count);
        if (kind == 0) harm_link(one, dice, "loss", &bench::LinkFaults::loss_probability);
        if (kind == 1) harm_link(one, dice, "flips", &bench::LinkFaults::flip_probability);
        if (kind == 2) harm_link(one, dice, "repeats", &bench::LinkFaults::repeat_probability);
        if (kind == 3) harm_link(one, dice, "bursts", &bench::LinkFaults::burst_probability);
        if (kind == 4) silence(one, dice);
        if (kind == 5) slow_answers(one, dice);
        if (kind == 6) disconnect(one, dice);
        if (kind == 7 || kind == 8) disk(one, dice);
        if (kind >= 9) timed(one, dice, timed_faults[kind - 9]);
    }
    add_sure_signs(one);
    return one;
}

CaseResult run_fault_case(const FaultCase& one) {
    const fs::path templates = fs::path(tipwright::test::source_dir()) / "templates";
    const Given given = given_for(one, templates);
    const fs::path file = fs::temp_directory_path() / ("tipwright-fault-" + std::to_string(::getpid()) + "-" +
                                                       std::to_string(one.seed) + ".twj");
    fs::remove(file);

    asio::io_context context(1);
    const auto clock = bench::make_lockstep_clock(context);
    auto instruments = program::LaneInstruments::make(context, *clock, given.bench, given.gauge, one.seed,
                                                      templates, one.bench);
    auto& truth = *(*instruments)->virtual_bench();
    truth.physics().keep_discharges();
    CaseResult result;
    {
        auto disk_file = bench::create_append_file(file);
        auto journal = bench::JournalWriter::create(
            std::make_unique<FailingFile>(std::move(*disk_file), one.disk), {one.disk.sync_error != 0, 0.01});
        if (!journal) {
            result.end = journal.fault().line();
            return result;
        }
        bench::RunLog log(**journal);
        log.open(0, "test", "2026-11-02T08:00:00Z", std::to_string(one.seed));
        log.given(0, "bench", given.bench.text.name, given.bench.text.text);
        log.given(0, "gauge kind", given.gauge.kind_text.name, given.gauge.kind_text.text);
        log.given(0, "gauge", given.gauge.text.name, given.gauge.text.text);
        log.given(0, "plan", given.plan.text.name, given.plan.text.text);
        bench::RunControl control;
        bench::Supervision supervision(context, {});
        bench::RunCallbacks callbacks;
        callbacks.message = [&](const std::string& text) {
            result.told_to_pull_the_plug |= text.find("PULL THE PUMP'S PLUG") != std::string::npos;
        };
        bool over = false;
        const auto perform = [&]() -> bench::Task<void> {
            const bench::RunEnd end = co_await bench::perform_run(
                context, *clock, supervision, (*instruments)->lane(), given.gauge.gauge, given.bench,
                given.plan.plan, log, control, callbacks);
            log.close(clock->now_s(), "2026-11-02T10:00:00Z", end.complete && !log.failure(),
                      end.fault ? end.fault->line() : "done");
            result.faulted = end.fault.has_value() || log.failure().has_value();
            result.noticed_s = end.noticed_s;
            result.stop_confirmed = end.stop_confirmed;
            result.end = end.fault ? end.fault->line() : "complete";
            // A pump that is out of reach may stop by itself, or not.
            co_await clock->sleep_for(10);
            over = true;
            (*instruments)->close();
            clock->stop();
        };
        const auto rethrow = [](const std::exception_ptr& error) {
            if (error) std::rethrow_exception(error);
        };
        asio::co_spawn(context, watch_pump(*clock, truth.physics(), over, result.pump_ran_until_s), rethrow);
        asio::co_spawn(context, perform, rethrow);
        clock->run();
    }
    bench::Replay replay;
    const auto summary =
        bench::read_journal(file, [&](const bench::JournalEntry& entry) { return replay.take(entry); });
    if (summary) {
        if (!replay.begun()) {
            result.journal_readable = true;
        } else if (auto run = replay.finish()) {
            result.journal_readable = true;
            judge(*run, given, truth, result);
        }
    }
    fs::remove(file);
    return result;
}

}  // namespace tipwright::test
