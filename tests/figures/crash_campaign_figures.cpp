// The crash campaign. Arguments: number of kills (default 500), the step between truncations in bytes
// (default 1: every offset), the program (default: the one built with this).
//   kills: the shipped program runs a virtual bench, half of the time in lockstep and half at 100 times the
//   wall
//     clock with a durable journal, and is killed (SIGKILL) at a random moment; every fourth recovery is
//     killed too. What is left is recovered: resumed to a complete run where anything was measured,
//     closed else. Steps kept must be, to the last bit, what the killed journal says and, in lockstep, what
//     the run that was not interrupted says.
//   truncations: journals cut at every byte of 4 KiB, at their end, after their first step, and in the
//     descriptions at their beginning, are opened, resumed, closed and read again.
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "bench/run/recovery.hpp"
#include "bench/run/run_log.hpp"
#include "calib/decision/evaluation.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
namespace fs = std::filesystem;

namespace {

constexpr const char* plan_text = R"(title = "Crash campaign"
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
min_tips = 6
time_limit_s = 400
[[step]]
intensity_mm_h = 240
min_tips = 10
time_limit_s = 300
[[step]]
intensity_mm_h = 180
min_tips = 6
time_limit_s = 300
)";
constexpr std::uint64_t cut_bytes = 4096;

std::string program_path = (fs::path(tipwright::test::binary_dir()) / "tipwright").string();

pid_t start(std::vector<std::string> arguments) {
    const pid_t child = ::fork();
    if (child != 0) return child;
    const int nowhere = ::open("/dev/null", O_RDWR | O_CLOEXEC);
    ::dup2(nowhere, 1);
    ::dup2(nowhere, 2);
    std::string name = program_path;
    std::vector<char*> argv = {name.data()};
    for (auto& argument : arguments) argv.push_back(argument.data());
    argv.push_back(nullptr);
    ::execv(name.c_str(), argv.data());
    std::_Exit(127);
}

// Exit code; -1 when a signal ended it.
int wait_for(pid_t child) {
    int status = 0;
    ::waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

// True when the kill came before the end.
bool kill_after(pid_t child, double seconds) {
    std::this_thread::sleep_for(std::chrono::duration<double>(seconds));
    ::kill(child, SIGKILL);
    return wait_for(child) == -1;
}

struct Evaluated {
    bool readable = false;
    bool begun = false;
    bool complete = false;
    std::vector<calib::StepResult> steps;
};

Evaluated evaluated(const fs::path& journal) {
    Evaluated out;
    bench::Replay replay;
    const auto summary =
        bench::read_journal(journal, [&](const bench::JournalEntry& entry) { return replay.take(entry); });
    if (!summary) return out;
    out.readable = true;
    out.begun = replay.begun();
    if (!out.begun) return out;  // closed or not, nothing was measured
    const auto run = replay.finish();
    out.readable = run.ok();
    if (!run) return out;
    out.complete = run->complete;
    for (const auto& observation : run->observations) {
        auto step = calib::evaluate_step(observation, run->gauge.gauge, run->bench.metrology,
                                         run->plan.plan.coverage);
        if (step) out.steps.push_back(std::move(*step));
    }
    return out;
}

// The first `count` steps are the same to the last bit.
bool same_steps(const Evaluated& a, const Evaluated& b, std::size_t count) {
    if (a.steps.size() < count || b.steps.size() < count) return false;
    for (std::size_t k = 0; k < count; ++k) {
        const auto& one = a.steps[k];
        const auto& other = b.steps[k];
        if (one.observation.step != other.observation.step ||
            one.observation.tips != other.observation.tips ||
            one.error_percent.value != other.error_percent.value ||
            one.error_expanded.U != other.error_expanded.U ||
            one.volume_per_tip_mL.value != other.volume_per_tip_mL.value)
            return false;
    }
    return true;
}

struct Tally {
    int kills = 0, in_time = 0, recovered = 0, steps_kept = 0, differ = 0, failed = 0;
};

class Campaign {
public:
    Campaign() : folder_(fs::temp_directory_path() / ("tipwright-crash-" + std::to_string(::getpid()))) {
        fs::create_directories(folder_);
        std::ofstream(folder_ / "plan.toml") << plan_text;
    }
    Campaign(const Campaign&) = delete;
    Campaign& operator=(const Campaign&) = delete;
    ~Campaign() { fs::remove_all(folder_); }

    std::vector<std::string> calibrate(const fs::path& out, std::uint64_t seed, bool durable) const {
        std::vector<std::string> arguments = {"calibrate",
                                              "--bench",
                                              "virtual-bench",
                                              "--gauge",
                                              "demo-bucket-200-twin",
                                              "--plan",
                                              (folder_ / "plan.toml").string(),
                                              "--out",
                                              out.string(),
                                              "--seed",
                                              std::to_string(seed)};
        if (durable) {
            arguments.emplace_back("--speed");
            arguments.emplace_back("100");
        }
        return arguments;
    }

    // A run to its end, in lockstep.
    fs::path whole(std::uint64_t seed) {
        const fs::path out = folder_ / ("whole-" + std::to_string(seed));
        if (!fs::exists(out)) {
            const auto begin = std::chrono::steady_clock::now();
            static_cast<void>(wait_for(start(calibrate(out, seed, false))));
            whole_s_ = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
        }
        return out / "journal.twj";
    }

    void kill_one(std::uint64_t seed, bool durable, Tally& tally) {
        std::mt19937_64 dice(seed);
        const auto uniform = [&] { return static_cast<double>(dice() >> 11) * 0x1p-53; };
        const fs::path reference = whole(1 + seed % 4);
        const fs::path out = folder_ / "killed";
        fs::remove_all(out);
        ++tally.kills;
        // A durable run takes some five seconds at 100 times the wall clock.
        const double longest_s = durable ? 5.0 : 1.1 * whole_s_;
        if (kill_after(start(calibrate(out, 1 + seed % 4, durable)), uniform() * longest_s)) ++tally.in_time;
        const fs::path journal = out / "journal.twj";
        if (!fs::exists(journal)) return void(++tally.recovered);  // killed before there was a run
        const Evaluated left = evaluated(journal);
        const bool header_torn = fs::file_size(journal) < 20;
        if (!left.readable && !header_torn) return fail("unreadable", seed, tally);
        if (left.complete) return void(++tally.recovered);
        const std::size_t kept = left.steps.size();
        tally.steps_kept += static_cast<int>(kept);
        if (!durable && !same_steps(left, evaluated(reference), kept)) ++tally.differ;
        if (!left.begun) {
            if (wait_for(start({"recover", out.string(), "--close"})) != 0) return fail("close", seed, tally);
            return void(++tally.recovered);
        }
        if (seed % 4 == 0)
            static_cast<void>(kill_after(start({"recover", out.string(), "--resume"}), uniform() * whole_s_));
        const int code = wait_for(start({"recover", out.string(), "--resume"}));
        const Evaluated recovered = evaluated(journal);
        // A recovery that was to be killed may have come to its end.
        if (code != 0 && !(seed % 4 == 0 && code == 2 && recovered.complete))
            return fail("go on", seed, tally);
        if (!recovered.complete || recovered.steps.size() != 3) return fail("not complete", seed, tally);
        if (!same_steps(recovered, left, kept)) ++tally.differ;
        ++tally.recovered;
    }

    void truncate(const std::string& text, std::size_t from, std::size_t to, std::size_t by,
                  const Evaluated& whole, Tally& tally) {
        const fs::path journal = folder_ / "cut.twj";
        for (std::size_t length = from; length < to; length += by) {
            fs::remove(journal);
            std::ofstream(journal, std::ios::binary) << text.substr(0, length);
            ++tally.kills;
            auto open = bench::open_run(journal);
            if (!open && length == text.size() && whole.complete) continue;
            if (!open) {
                fail("open", length, tally);
                continue;
            }
            const bool begun = open->run.begun;
            const std::size_t kept = static_cast<std::size_t>(open->first_step - 1);
            tally.steps_kept += static_cast<int>(kept);
            auto writer = bench::go_on_writing(*open, {});
            if (!writer) {
                fail("go on writing", length, tally);
                continue;
            }
            {
                bench::RunLog log(**writer);
                if (begun) log.go_on(open->journal.last_time_s, "2026-11-02T12:00:00Z", open->first_step, 0);
                log.close(open->journal.last_time_s, "2026-11-02T12:00:00Z", false, "closed as incomplete");
                writer->reset();
            }
            const Evaluated after = evaluated(journal);
            if (!after.readable) {
                fail("read again", length, tally);
                continue;
            }
            if (begun && (after.steps.size() != kept || !same_steps(after, whole, kept))) ++tally.differ;
            ++tally.recovered;
        }
    }

private:
    static void fail(const char* what, std::uint64_t where, Tally& tally) {
        std::printf("# not recovered: %s, seed or length %llu\n", what,
                    static_cast<unsigned long long>(where));
        ++tally.failed;
    }

    fs::path folder_;
    double whole_s_ = 0.3;
};

bool all_ok = true;

void figure(const std::string& name, double value, const char* op, double limit) {
    all_ok = test::figure("crash_campaign_" + name, value, "1", op, limit, 6) && all_ok;
}

void figures(const std::string& name, const Tally& tally, int wanted) {
    figure(name, tally.kills, ">=", wanted);
    figure(name + "_not_recovered", tally.failed, "<=", 0);
    figure(name + "_steps_kept", tally.steps_kept, ">=", 0);
    figure(name + "_kept_steps_that_differ", tally.differ, "<=", 0);
}

}  // namespace

int main(int argc, char** argv) {
    const int kills = argc > 1 ? std::atoi(argv[1]) : 500;
    const std::size_t by = argc > 2 ? static_cast<std::size_t>(std::max(1, std::atoi(argv[2]))) : 1;
    if (argc > 3) program_path = argv[3];
    Campaign campaign;
    Tally killed;
    for (int k = 0; k < kills; ++k) campaign.kill_one(static_cast<std::uint64_t>(k + 1), k % 2 == 1, killed);
    figures("kills", killed, kills);
    figure("kills_while_it_ran", killed.in_time, ">=", 0.5 * kills);

    const fs::path journal = campaign.whole(7);
    std::ifstream in(journal, std::ios::binary);
    const std::string text((std::istreambuf_iterator<char>(in)), {});
    const Evaluated whole = evaluated(journal);
    Tally cut;
    campaign.truncate(text, text.size() - cut_bytes, text.size(), by, whole, cut);
    const std::size_t first_step = text.find("did=close step=1");
    campaign.truncate(text, first_step - cut_bytes / 2, first_step + cut_bytes / 2, by, whole, cut);
    campaign.truncate(text, 0, cut_bytes, by, whole, cut);
    figures("truncations", cut, static_cast<int>(3 * cut_bytes / by));
    return all_ok ? 0 : 1;
}
