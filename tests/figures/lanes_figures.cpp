// Sixteen lanes at real time, 20 balance readings and 5 tips a second each, on pseudo-terminals that another
// process serves: share of one core, memory, and the time from the sending of a contact edge to its line
// being written in the journal. The process under test holds the program's own parts: instruments, runs,
// durable journals, watchdog, the console view. Beside it, as references: how late the machine wakes a
// thread that asks for a time, and does nothing else; and, while the lanes settle, what it takes to be woken
// by the bytes of as many lanes, to read them and to write lines, and nothing else. Argument: seconds to
// measure (default 60).
#include <fcntl.h>
#include <sys/resource.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "bench/journal/append_file.hpp"
#include "bench/journal/writer.hpp"
#include "bench/program/run/lane.hpp"
#include "bench/program/run/lanes_view.hpp"
#include "tests/support/bare_reader.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/instrument_feeder.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::test;
namespace asio = boost::asio;
namespace fs = std::filesystem;

namespace {

constexpr std::size_t lanes = 16;
constexpr double tips_a_s = 5;          // 1800 mm/h at 0.1 mm a tip
constexpr double settled_after_s = 30;  // primed, wetted, settled: every lane collects

constexpr const char* kind_text = R"(title = "Small quick bucket"
[gauge]
nominal_tip_mm = 0.1
catch_diameter_mm = 100
catch_diameter_u_mm = 0.1
catch_diameter_method = "made up"
compartments = 2
inlet = "straight"
contacts = ["normally open"]
debounce_s = 0.03
max_intensity_mm_h = 2000
)";
constexpr const char* plan_text = R"(title = "Load"
target_U_percent = 0.05
coverage = 0.95
[wetting]
intensity_mm_h = 1800
tips = 8
[settle]
tips = 4
time_s = 5
[[step]]
intensity_mm_h = 1800
min_tips = 100000
time_limit_s = 3600
)";

// Notes when an edge's line had been written.
class TimedFile final : public bench::AppendFile {
public:
    TimedFile(std::unique_ptr<bench::AppendFile> file, std::size_t lane, const SentTimes& sent,
              std::vector<double>& latencies_s)
        : file_(std::move(file)), lane_(lane), sent_(sent), latencies_s_(latencies_s) {}
    std::string name() const override { return file_->name(); }
    ssize_t write(std::string_view bytes) override {
        const ssize_t count = file_->write(bytes);
        const std::size_t number = bytes.find(" number=");
        if (number != std::string_view::npos && bytes.find(" edge ") != std::string_view::npos) {
            const auto line = std::strtoul(bytes.data() + number + 8, nullptr, 10);
            latencies_s_.push_back(steady_s() - sent_.sent_s[lane_][line % feeder_lines_max].load());
        }
        return count;
    }
    int sync() override { return file_->sync(); }
    int cut(std::uint64_t bytes) override { return file_->cut(bytes); }

private:
    std::unique_ptr<bench::AppendFile> file_;
    std::size_t lane_;
    const SentTimes& sent_;
    std::vector<double>& latencies_s_;
};

struct Lane {
    bench::BenchDescription bench;
    std::unique_ptr<program::LaneInstruments> instruments;
    std::unique_ptr<bench::JournalWriter> journal;
    std::unique_ptr<bench::RunLog> log;
    bench::RunControl control;
    bench::RunEnd end;
};

// Of the whole process (RUSAGE_SELF) or of who asks (RUSAGE_THREAD).
double processor_s(int whose) {
    rusage used{};
    ::getrusage(whose, &used);
    const auto seconds = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return seconds(used.ru_utime) + seconds(used.ru_stime);
}

// How late the machine wakes whoever waits, now, on this machine, with whatever else it runs.
class WakeReference {
public:
    WakeReference() : thread_([this] { wake_often(); }) {}
    WakeReference(const WakeReference&) = delete;
    WakeReference& operator=(const WakeReference&) = delete;
    ~WakeReference() { end(); }
    std::vector<double> end() {
        ending_ = true;
        if (thread_.joinable()) thread_.join();
        return std::move(late_s_);
    }
    // After the end: what it took itself, which is no part of what is measured.
    double took_s() const { return took_s_; }

private:
    void wake_often() {
        while (!ending_) {
            const double due_s = steady_s() + 0.02;
            std::this_thread::sleep_for(std::chrono::milliseconds(20));
            late_s_.push_back(steady_s() - due_s);
        }
        took_s_ = processor_s(RUSAGE_THREAD);
    }
    std::vector<double> late_s_;
    double took_s_ = 0;
    std::atomic<bool> ending_ = false;
    std::thread thread_;
};

double quantile_ms(std::vector<double>& values_s, double p) {
    if (values_s.empty()) return 1e9;
    std::sort(values_s.begin(), values_s.end());
    return 1e3 * values_s[static_cast<std::size_t>(p * static_cast<double>(values_s.size() - 1))];
}

bool all_ok = true;

void figure(const char* name, double value, const char* unit, const char* op, double limit) {
    all_ok = test::figure(std::string("lanes_") + name, value, unit, op, limit) && all_ok;
}

std::string with_links(std::string text, const FeederLane& lane) {
    const std::string virtual_link = "link = \"virtual\"";
    // In the order of the template: balance, pump, counter, climate.
    for (const std::string& link : {lane.balance, lane.pump, lane.counter, lane.climate})
        text.replace(text.find(virtual_link), virtual_link.size(), "link = \"" + link + "\"");
    return text;
}

bench::Task<void> perform(asio::io_context& context, bench::Clock& clock, bench::Supervision& supervision,
                          Lane& lane, const calib::Gauge& gauge, const calib::Plan& plan,
                          bench::RunCallbacks callbacks) {
    lane.end = co_await bench::perform_run(context, clock, supervision, lane.instruments->lane(), gauge,
                                           lane.bench, plan, *lane.log, lane.control, std::move(callbacks));
}

}  // namespace

int main(int argc, char** argv) {
    const double measured_s = argc > 1 ? std::strtod(argv[1], nullptr) : 60;
    const fs::path templates = fs::path(tipwright::test::source_dir()) / "templates";
    const auto gauge = bench::parse_gauge({}, {"quick.toml", kind_text});
    const auto plan = bench::parse_plan({"load.toml", plan_text});
    const auto bench = bench::load_bench("virtual-bench", templates);
    if (!gauge || !plan || !bench) {
        std::printf("# %s\n", (!gauge ? gauge.fault() : !plan ? plan.fault() : bench.fault()).line().c_str());
        return 1;
    }
    InstrumentFeeder feeder(lanes, gauge->gauge.nominal_tip_mL(), 20);
    std::optional<InstrumentFeeder> bare_feeder(std::in_place, lanes, gauge->gauge.nominal_tip_mL(), 20);
    const fs::path folder = fs::temp_directory_path() / ("tipwright-lanes-" + std::to_string(::getpid()));
    fs::create_directories(folder);

    asio::io_context context(1);
    const auto clock = bench::make_wall_clock(context);
    bench::SupervisionOptions watched;
    watched.hang_s = 10;
    bench::Supervision supervision(context, watched);
    const int nowhere = ::open("/dev/null", O_WRONLY);
    program::Display display(nowhere);
    program::LanesView view(display, std::vector<std::string>(lanes, "lane"));
    std::vector<double> latencies_s;
    std::vector<std::unique_ptr<Lane>> all;
    std::size_t going = lanes;
    for (std::size_t k = 0; k < lanes; ++k) {
        auto lane = std::make_unique<Lane>();
        lane->bench = *bench::parse_bench({"bench.toml", with_links(bench->text.text, feeder.lanes()[k])});
        auto instruments = program::LaneInstruments::make(context, *clock, lane->bench, *gauge, 1, templates,
                                                          {}, &supervision);
        auto file = bench::create_append_file(folder / ("lane-" + std::to_string(k) + ".twj"));
        if (!instruments || !file) {
            std::printf("# %s\n", (!instruments ? instruments.fault() : file.fault()).line().c_str());
            return 1;
        }
        lane->instruments = std::move(*instruments);
        lane->journal = std::move(*bench::JournalWriter::create(
            std::make_unique<TimedFile>(std::move(*file), k, feeder.sent(), latencies_s), {true}));
        lane->log = std::make_unique<bench::RunLog>(*lane->journal);
        bench::RunCallbacks callbacks;
        callbacks.progress = [&view, k](const bench::Progress& progress) { view.show(k, progress); };
        asio::co_spawn(context,
                       perform(context, *clock, supervision, *lane, gauge->gauge, plan->plan, callbacks),
                       [&](const std::exception_ptr& error) {
                           if (error) std::rethrow_exception(error);
                           if (--going == 0) clock->stop();
                       });
        all.push_back(std::move(lane));
    }
    supervision.begin();

    double began_processor_s = 0;
    double began_s = 0;
    double share = 1e9;
    double bare_share = 1e-9;
    double tips_per_s = 0;
    std::optional<WakeReference> reference;
    std::vector<double> late_s;
    const auto watch = [&]() -> bench::Task<void> {
        {
            BareReader bare(*bare_feeder, 60 * tips_a_s * gauge->gauge.nominal_tip_mL(), folder);
            co_await clock->sleep_for(settled_after_s);
            bare_share = bare.end();
        }
        bare_feeder.reset();
        latencies_s.clear();
        reference.emplace();
        began_processor_s = processor_s(RUSAGE_SELF);
        began_s = steady_s();
        co_await clock->sleep_for(measured_s);
        const double seconds = steady_s() - began_s;
        const double took_s = processor_s(RUSAGE_SELF) - began_processor_s;
        late_s = reference->end();
        share = (took_s - reference->took_s()) / seconds;
        tips_per_s = static_cast<double>(latencies_s.size()) / 2 / seconds / lanes;
        for (auto& lane : all) lane->control.request_stop({FaultCode::interrupted, "enough", "figures", ""});
    };
    asio::co_spawn(context, watch, [](const std::exception_ptr& error) {
        if (error) std::rethrow_exception(error);
    });
    clock->run();
    int disturbed = 0;
    for (auto& lane : all) {
        if (lane->end.fault && lane->end.fault->code != FaultCode::interrupted) {
            std::printf("# a lane ended: %s\n", lane->end.fault->line().c_str());
            ++disturbed;
        }
    }
    rusage used{};
    ::getrusage(RUSAGE_SELF, &used);
    figure("disturbed", disturbed, "1", "<=", 0);
    figure("tips_per_s_and_lane", tips_per_s, "1/s", ">=", 4.9);
    figure("share_of_a_core", 100 * share, "%", "<=", 3);
    figure("share_of_a_core_of_bare_reading", 100 * bare_share, "%", ">=", 0);
    figure("times_bare_reading", share / bare_share, "1", "<=", 4.5);
    figure("memory", static_cast<double>(used.ru_maxrss) / 1024, "MiB", "<=", 100);
    figure("tip_to_journal_median", quantile_ms(latencies_s, 0.5), "ms", "<=", 5);
    figure("tip_to_journal_p99", quantile_ms(latencies_s, 0.99), "ms", "<=", 5);
    figure("machine_wakes_late_p99", quantile_ms(late_s, 0.99), "ms", ">=", 0);
    for (auto& lane : all) lane->instruments->close();
    fs::remove_all(folder);
    return all_ok ? 0 : 1;
}
