// virtual-rain: a logger's file of rain that is known: invented rain on a virtual gauge.
#include <cmath>
#include <cstdio>
#include <optional>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/rain_basis.hpp"
#include "bench/program/terminal.hpp"
#include "bench/virtual_bench/errors.hpp"
#include "bench/virtual_bench/rain_gauge.hpp"
#include "calib/base/dates.hpp"
#include "report/files/streams.hpp"
#include "report/rain/rain_report.hpp"

namespace tipwright::program {

namespace {

struct VirtualRainOptions {
    std::string gauge;
    std::filesystem::path out;
    double days = 90;
    std::uint64_t seed = 1;
    std::optional<std::uint64_t> rain_seed;  // none: the gauge's
    std::string from = "2031-04-01";
    std::string climate = "middle";
};

ExitCode virtual_rain(const CommonOptions& common, const VirtualRainOptions& options) {
    const auto gauge = bench::load_gauge(options.gauge, common.templates);
    if (!gauge) return fail(common, gauge.fault());
    const auto bench = bench::load_bench("virtual-bench", common.templates);
    if (!bench) return fail(common, bench.fault());
    const auto start = moment_s(options.from);
    if (!start)
        return fail(common, {FaultCode::bad_value, "no date: " + in_quotes(options.from), "--from",
                             "give 2031-04-01"});
    if (!gauge->truth)
        return fail(common, {FaultCode::missing_field, "the gauge kind has no [virtual] table", options.gauge,
                             "take one of 'tipwright list'"});
    // Some 300, 900 and 3900 mm a year.
    bench::RainClimate climate;
    if (options.climate == "drizzle") climate = {0.25, 5, 0.15, 0.7, 0.5, 0.35};
    if (options.climate == "middle") climate = {0.3, 6, 0.4, 2.5, 3.5, 0.5};
    if (options.climate == "heavy") climate = {0.4, 6, 0.6, 4, 18, 0.4};
    const auto errors = bench::draw_errors(gauge->gauge, *bench->truth, bench->metrology, options.seed);
    bench::RainGauge standing(gauge->gauge, bench::truth_of_one(*gauge->truth, errors),
                              errors.catch_diameter_mm, options.seed);
    const std::uint64_t rain_seed = options.rain_seed.value_or(options.seed);
    bench::VirtualRain rain(climate, options.days * day_s, rain_seed);
    GrowingFile file(options.out);
    file.append("# invented: virtual rain on a virtual gauge; seed " + std::to_string(options.seed) +
                ", of the rain " + std::to_string(rain_seed) + "\n" + "time,contact\n");
    for (int day = 0; day < options.days; ++day) {
        std::string rows;
        for (const auto& tip : standing.stand_in(rain, std::min(day + 1.0, options.days) * day_s)) {
            char text[64];
            const auto centi = static_cast<long long>(std::llround(tip.time_s * 100));
            const long long whole_s = centi / 100;
            std::snprintf(text, sizeof text, ".%02dZ,%d\n", static_cast<int>(centi % 100), tip.contact);
            const std::string moment = report::rain_moment(*start + static_cast<double>(whole_s), 0);
            rows += moment.substr(0, moment.size() - 1) + text;
        }
        file.append(rows);
    }
    if (auto committed = file.commit(); !committed) return fail(common, committed.fault());
    if (common.json)
        print_json_text("{\"ok\": true, \"fallen_mm\": " + std::to_string(standing.fallen_mm()) + "}");
    else
        print_to(stdout, "%-12s %.2f mm\n%-12s %s\n", "fell", standing.fallen_mm(), "tips",
                 options.out.string());
    return ExitCode::done;
}

}  // namespace

void add_virtual_rain(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "virtual-rain",
                    "Let invented rain fall on a virtual gauge and write its tips", virtual_rain);
    command.add_option("--gauge", options->gauge, "Gauge or gauge kind").required().type_name("FILE");
    command.add_option("--out", options->out, "Tips to write").required().type_name("TIPS.csv");
    add_force(command, options->out);
    command.add_option("--days", options->days, "Number of days").in_range(1.0, 36525.0).show_default();
    command.add_option(
        "--rain-seed", options->rain_seed,
        "Seed of the rain: the same seed and climate give every gauge the same rain (default: --seed)");
    command
        .add_option("--seed", options->seed, "Seed of the gauge: the same gauge as with 'calibrate --seed'")
        .show_default();
    command.add_option("--from", options->from, "First day").show_default();
    command.add_option("--climate", options->climate, "drizzle, middle or heavy")
        .one_of({"drizzle", "middle", "heavy"})
        .show_default();
}

}  // namespace tipwright::program
