
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <sstream>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/reading.hpp"
#include "bench/program/command.hpp"
#include "bench/program/environment.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/run/commands.hpp"
#include "bench/program/terminal.hpp"
#include "bench/virtual_bench/serve.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct ServeOptions {
    std::string bench = "virtual-bench";
    std::string gauge;
    std::filesystem::path out;  // bench description that points to the served instruments
    std::uint64_t seed = 1;
    double speed = 1;
    double duration_s = 0;  // bench time; 0: until Ctrl-C
    bool tcp = false;
    std::string started_at;  // of runs on it; empty: TIPWRIGHT_TRIAL_NOW, or a fixed date
    bool hand = false;       // "load GRAMS" on standard input puts a mass on the pan
};

// The bench's own words with each virtual link replaced by where that instrument is served. The [virtual]
// table stays, so that certificates still say what they come from.
std::string with_links(const std::string& text, const bench::BenchDescription& bench,
                       const std::vector<bench::ServedInstrument>& served, const std::string& how) {
    std::istringstream lines(text);
    std::string out;
    std::size_t instrument = 0;
    for (std::string line; std::getline(lines, line);) {
        if (line.starts_with("link") && instrument < bench.instruments.size()) {
            const std::string& role = bench.instruments[instrument++].role;
            const auto found =
                std::find_if(served.begin(), served.end(),
                             [&](const bench::ServedInstrument& one) { return one.role == role; });
            if (found != served.end()) line = "link = \"" + found->address + "\"";
        }
        out += line + "\n";
        if (line.starts_with("[virtual]")) out += how;
    }
    return out;
}

ExitCode serve(const CommonOptions& common, const ServeOptions& options) {
    const auto bench = bench::load_bench(options.bench, common.templates);
    if (!bench) return fail(common, bench.fault());
    const auto gauge = bench::load_gauge(options.gauge, common.templates);
    if (!gauge) return fail(common, gauge.fault());
    if (!bench->truth || !gauge->truth) {
        return fail(common, {FaultCode::missing_field, "bench and gauge kind both need a [virtual] table",
                             bench->text.name, "use virtual-bench and a gauge kind of the templates"});
    }
    const std::string started_at =
        options.started_at.empty() ? environment("TIPWRIGHT_TRIAL_NOW") : options.started_at;
    if (!started_at.empty() && !later(started_at, 0))
        return fail(common, {FaultCode::bad_value, in_quotes(started_at) + " is not a UTC time",
                             options.started_at.empty() ? "TIPWRIGHT_TRIAL_NOW" : "--started-at",
                             "write it as 2026-11-02T08:00:00Z"});
    std::string how = "served_speed = " + bench::shortest(options.speed) + "\n";
    if (!started_at.empty()) how += "served_from = \"" + started_at + "\"\n";
    bench::ServeSettings settings;
    settings.gauge = gauge->gauge;
    settings.gauge_truth = *gauge->truth;
    settings.bench_truth = *bench->truth;
    settings.metrology = bench->metrology;
    settings.seed = options.seed;
    settings.on = options.tcp ? bench::ServeOn::tcp : bench::ServeOn::pseudo_terminals;
    for (const auto& instrument : bench->instruments) {
        auto profile = bench::load_profile(instrument.profile, common.templates);
        if (!profile) return fail(common, profile.fault());
        settings.profiles.push_back(std::move(*profile));
    }
    if (options.hand) settings.hand = STDIN_FILENO;
    std::optional<Fault> unwritten;
    const auto ready = [&](const std::vector<bench::ServedInstrument>& served) {
        const auto written = write_file(options.out, with_links(bench->text.text, *bench, served, how));
        if (!written) unwritten = written.fault();
        for (const auto& one : served) print_to(stdout, "%-8s %s\n", one.role.c_str(), one.address.c_str());
        print_to(stdout, "%-8s %s\n", "bench", options.out.c_str());
        std::fflush(stdout);
    };
    const auto done = bench::serve(settings, options.speed, options.duration_s, ready);
    if (unwritten) return fail(common, *unwritten);
    if (!done) return fail(common, done.fault());
    return ExitCode::done;
}

}  // namespace

void add_serve(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "serve",
        "Serve a virtual bench's instruments on pseudo-terminals or TCP (loopback), for trials", serve);
    command.add_option("--bench", options->bench, "Description of a virtual bench")
        .type_name("FILE")
        .show_default();
    command.add_option("--gauge", options->gauge, "Gauge that stands on it").required().type_name("FILE");
    command.add_option("--out", options->out, "Bench description to write, for calibrate --bench")
        .required()
        .type_name("FILE.toml");
    command.add_option("--seed", options->seed, "Seed").show_default();
    command
        .add_option("--speed", options->speed,
                    "How many times as fast as the wall clock; the bench description states it")
        .in_range(0.1, 100.0)
        .show_default();
    command.add_option("--for", options->duration_s, "Bench time to serve, s (0: until Ctrl-C)")
        .in_range(0.0, 1e7);
    command
        .add_option("--started-at", options->started_at,
                    "When runs on it begin, such as 2026-11-02T08:00:00Z (default: TIPWRIGHT_TRIAL_NOW)")
        .type_name("TIME");
    add_force(command, options->out);
    command.add_flag("--hand", options->hand,
                     "Read lines \"load GRAMS\" from standard input: each puts a mass on the pan");
    command.add_flag("--tcp", options->tcp, "TCP ports instead of pseudo-terminals");
}

}  // namespace tipwright::program
