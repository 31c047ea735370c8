#include <CLI/CLI.hpp>

#include "bench/program/commands.hpp"
#include "bench/program/options/options.hpp"

namespace tipwright::program {

namespace {

void add_adjust(CommandLine& line) {
    const auto options = std::make_shared<AdjustOptions>();
    auto* command = line.app.add_subcommand("adjust", "Advise on the stop screws from an as-found record");
    command->add_option("found", options->found, "As-found record or certificate")
        ->required()
        ->type_name("FILE");
    command->add_option("--left", options->left, "As-left record: did what was expected come?")
        ->type_name("FILE");
    command->add_option(
        "--at", options->at_mm_h,
        "Intensity at which the error should vanish, mm/h (default: smallest largest |e| + U)");
    command->add_option("--per-turn", options->mL_per_turn, "Volume a turn of a stop screw brings, mL");
    command->add_option("--per-turn-u", options->mL_per_turn_u, "Its standard uncertainty, mL");
    command->add_option("--setting-u", options->setting_u_mL, "How well a compartment can be set, mL")
        ->capture_default_str();
    command
        ->add_option(
            "--earlier", options->earlier,
            "An earlier adjustment of such a gauge, to learn from: as-found and as-left record, turns of "
            "the screws of A and B (or of the spoon), apart by commas; may be repeated")
        ->type_name("FOUND,LEFT,A[,B]");
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return adjust(line.common, *options); }; });
}

void add_field_check(CommandLine& line) {
    const auto options = std::make_shared<FieldCheckOptions>();
    auto* command = line.app.add_subcommand(
        "field-check", "Check a gauge in the field: known volume poured, or discharge collected");
    command->add_option("--gauge", options->gauge, "Gauge or gauge kind")->required()->type_name("FILE");
    command->add_option("--tips", options->tips, "Tips counted")->required();
    auto* poured =
        command->add_option("--poured-mL", options->poured_mL, "Known volume poured or dripped in");
    command->add_option("--poured-u-mL", options->poured_u_mL, "Its standard uncertainty")
        ->capture_default_str();
    command->add_option("--retained-mL", options->retained_mL, "Water that clung to funnel and filter");
    command->add_option("--retained-u-mL", options->retained_u_mL, "Its standard uncertainty")
        ->capture_default_str();
    command->add_option("--collected-g", options->collected_g, "Water collected at the drain, weighed later")
        ->excludes(poured);
    command->add_option("--collected-u-g", options->collected_u_g, "Its standard uncertainty")
        ->capture_default_str();
    command->add_option("--lost-g", options->lost_g, "Evaporated or spilt before weighing");
    command->add_option("--lost-u-g", options->lost_u_g, "Its standard uncertainty")->capture_default_str();
    command->add_option("--water-temperature-C", options->water_temperature_C, "At the weighing")
        ->capture_default_str();
    command->add_option("--logged-mm", options->logged_depth_mm, "Depth the logger recorded, if it corrects");
    command->add_option("--duration-s", options->duration_s, "How long the pouring took");
    command->add_option("--limit", options->limit_percent, "Allowed error, %");
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return field_check(line.common, *options); }; });
}

}  // namespace

void add_workshop_commands(CommandLine& line) {
    add_adjust(line);
    add_field_check(line);
}

}  // namespace tipwright::program
