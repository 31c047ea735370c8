#include "bench/program/command_line.hpp"

#include <CLI/CLI.hpp>
#include <cstdio>
#include <exception>

#include "bench/program/commands.hpp"
#include "bench/program/version.hpp"

namespace tipwright::program {

namespace {

constexpr const char* about =
    "Calibrates tipping-bucket rain gauges: passes known steady flows through a gauge, counts its tips, "
    "weighs\n"
    "what it discharges, derives volume per tip and its change with the rate, and writes the certificate.";

constexpr const char* footer =
    "Exit codes:\n"
    "    0  done\n"
    "    1  the program itself failed\n"
    "    2  the command line or a file is wrong\n"
    "    3  an instrument or the water failed: pump stopped, journal kept, no certificate\n"
    "    4  the measurement did not come to its end: no certificate\n"
    "    5  verify found a difference\n"
    "  130  Ctrl-C: pump stopped, journal closed, no certificate\n"
    "\n"
    "Files named by --bench, --gauge and --plan may be names of templates: see 'tipwright list'.\n"
    "Keep mains power away from water, lift full vessels with care, let no water stand between uses;\n"
    "local codes and licensed practice come first.";

template <class Options>
void add_paper(CLI::App& command, Options& options) {
    command.add_option("--paper", options.paper, "Page size of the certificate")
        ->check(CLI::IsMember({"A4", "Letter"}))
        ->capture_default_str();
}

}  // namespace

ExitCode run_program(int argc, const char* const* argv) {
    CLI::App app(about, "tipwright");
    app.footer(footer);
    app.set_version_flag("--version", std::string("tipwright ") + version());
    app.require_subcommand(1);
    app.fallthrough();
    app.get_formatter()->column_width(34);

    CommonOptions common;
    common.templates = TIPWRIGHT_TEMPLATES;
    app.add_flag("--json", common.json, "Print one JSON document for machines");
    app.add_option("--templates", common.templates, "Folder of templates")
        ->type_name("DIR")
        ->capture_default_str();

    CalibrateOptions calibrate_options;
    auto* calibrate_command =
        app.add_subcommand("calibrate", "Run a plan on a bench and write the certificate");
    calibrate_command->add_option("--bench", calibrate_options.bench, "Bench description")
        ->required()
        ->type_name("FILE");
    calibrate_command
        ->add_option("--gauge", calibrate_options.gauge, "Gauge, or a gauge kind on a virtual bench")
        ->required()
        ->type_name("FILE");
    calibrate_command->add_option("--plan", calibrate_options.plan, "Plan of intensities and limits")
        ->required()
        ->type_name("FILE");
    calibrate_command
        ->add_option("--out", calibrate_options.out, "Folder for journal, record, tables, certificate")
        ->required()
        ->type_name("DIR");
    calibrate_command->add_option("--seed", calibrate_options.seed, "Seed of a virtual bench")
        ->capture_default_str();
    calibrate_command
        ->add_option(
            "--speed", calibrate_options.speed,
            "Run a virtual bench this many times as fast as the wall clock (default: as fast as can be)")
        ->check(CLI::Range(0.1, 100.0));
    calibrate_command
        ->add_option("--started-at", calibrate_options.started_at,
                     "Start of a virtual run, as 2026-11-02T08:00:00Z")
        ->type_name("TIME");
    calibrate_command->add_flag("--as-left", calibrate_options.as_left,
                                "State after adjustment (default: as found)");
    add_paper(*calibrate_command, calibrate_options);

    EvaluateOptions evaluate_options;
    auto* evaluate_command = app.add_subcommand(
        "evaluate", "Compute record and certificate from a journal or a table of measurements");
    evaluate_command
        ->add_option("source", evaluate_options.source, "Journal, or CSV of supplied measurements")
        ->required()
        ->type_name("JOURNAL|CSV");
    evaluate_command->add_option("--out", evaluate_options.out, "Folder for record, tables, certificate")
        ->required()
        ->type_name("DIR");
    evaluate_command->add_option("--plan", evaluate_options.plan, "For CSV: plan whose limits and rule apply")
        ->type_name("FILE");
    evaluate_command->add_flag("--as-left", evaluate_options.as_left,
                               "State after adjustment (default: as found)");
    add_paper(*evaluate_command, evaluate_options);

    CertifyOptions certify_options;
    auto* certify_command = app.add_subcommand("certify", "Draw the certificate of a record");
    certify_command->add_option("record", certify_options.record, "Record (JSON)")
        ->required()
        ->type_name("RECORD");
    certify_command->add_option("--out", certify_options.out, "Certificate to write")
        ->required()
        ->type_name("FILE.pdf");
    add_paper(*certify_command, certify_options);

    VerifyOptions verify_options;
    auto* verify_command =
        app.add_subcommand("verify", "Check journals, records and certificates, and that they agree");
    verify_command->add_option("files", verify_options.files, "Files to check, together")
        ->required()
        ->type_name("FILE");

    CompareOptions compare_options;
    auto* compare_command =
        app.add_subcommand("compare", "Overlay the error curves of several records; E_n and drift");
    compare_command->add_option("records", compare_options.records, "Records or certificates, two or more")
        ->required()
        ->type_name("FILE");
    compare_command->add_option("--out", compare_options.out, "Folder for comparison.csv and comparison.pdf")
        ->type_name("DIR");
    compare_command->add_option("--limit", compare_options.limit_percent, "Accuracy asked for, %")
        ->capture_default_str();
    compare_command->add_option("--at", compare_options.intensities_mm_h, "Intensities to compare at, mm/h");
    add_paper(*compare_command, compare_options);

    AdjustOptions adjust_options;
    auto* adjust_command = app.add_subcommand("adjust", "Advise on the stop screws from an as-found record");
    adjust_command->add_option("found", adjust_options.found, "As-found record or certificate")
        ->required()
        ->type_name("FILE");
    adjust_command->add_option("--left", adjust_options.left, "As-left record: did what was expected come?")
        ->type_name("FILE");
    adjust_command->add_option(
        "--at", adjust_options.at_mm_h,
        "Intensity at which the error should vanish, mm/h (default: smallest largest |e| + U)");
    adjust_command->add_option("--per-turn", adjust_options.mL_per_turn,
                               "Volume a turn of a stop screw brings, mL");
    adjust_command->add_option("--per-turn-u", adjust_options.mL_per_turn_u, "Its standard uncertainty, mL");
    adjust_command
        ->add_option("--setting-u", adjust_options.setting_u_mL, "How well a compartment can be set, mL")
        ->capture_default_str();

    FieldCheckOptions field_options;
    auto* field_command = app.add_subcommand(
        "field-check", "Check a gauge in the field: known volume poured, or discharge collected");
    field_command->add_option("--gauge", field_options.gauge, "Gauge or gauge kind")
        ->required()
        ->type_name("FILE");
    field_command->add_option("--tips", field_options.tips, "Tips counted")->required();
    auto* poured = field_command->add_option("--poured-mL", field_options.poured_mL,
                                             "Known volume poured or dripped in");
    field_command->add_option("--poured-u-mL", field_options.poured_u_mL, "Its standard uncertainty")
        ->capture_default_str();
    field_command->add_option("--retained-mL", field_options.retained_mL,
                              "Water that clung to funnel and filter");
    field_command->add_option("--retained-u-mL", field_options.retained_u_mL, "Its standard uncertainty")
        ->capture_default_str();
    field_command
        ->add_option("--collected-g", field_options.collected_g,
                     "Water collected at the drain, weighed later")
        ->excludes(poured);
    field_command->add_option("--collected-u-g", field_options.collected_u_g, "Its standard uncertainty")
        ->capture_default_str();
    field_command->add_option("--lost-g", field_options.lost_g, "Evaporated or spilt before weighing");
    field_command->add_option("--lost-u-g", field_options.lost_u_g, "Its standard uncertainty")
        ->capture_default_str();
    field_command->add_option("--water-temperature-C", field_options.water_temperature_C, "At the weighing")
        ->capture_default_str();
    field_command->add_option("--logged-mm", field_options.logged_depth_mm,
                              "Depth the logger recorded, if it corrects");
    field_command->add_option("--duration-s", field_options.duration_s, "How long the pouring took");
    field_command->add_option("--limit", field_options.limit_percent, "Allowed error, %");

    ServeOptions serve_options;
    auto* serve_command = app.add_subcommand(
        "serve", "Serve a virtual bench's instruments on pseudo-terminals or TCP (loopback), for trials");
    serve_command->add_option("--bench", serve_options.bench, "Virtual bench")
        ->type_name("FILE")
        ->capture_default_str();
    serve_command->add_option("--gauge", serve_options.gauge, "Gauge on it")->required()->type_name("FILE");
    serve_command->add_option("--out", serve_options.out, "Bench description to write, for calibrate --bench")
        ->required()
        ->type_name("FILE.toml");
    serve_command->add_option("--seed", serve_options.seed, "Seed")->capture_default_str();
    serve_command
        ->add_option("--speed", serve_options.speed,
                     "Times as fast as the wall clock; give calibrate the same")
        ->check(CLI::Range(0.1, 100.0))
        ->capture_default_str();
    serve_command->add_option("--for", serve_options.duration_s, "Bench time to serve, s (0: until Ctrl-C)")
        ->check(CLI::Range(0.0, 1e7));
    serve_command->add_flag("--tcp", serve_options.tcp, "TCP ports instead of pseudo-terminals");

    auto* list_command =
        app.add_subcommand("list", "List gauge kinds, gauges, plans, benches, profiles, limits");

    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        if (error.get_exit_code() == 0) {
            app.exit(error);
            return ExitCode::done;
        }
        std::string what = error.what();
        for (char& c : what) c = c == '\n' ? ' ' : c;
        return fail(common, {FaultCode::usage, what, "command line", "see 'tipwright --help'"});
    }
    try {
        if (calibrate_command->parsed()) return calibrate(common, calibrate_options);
        if (evaluate_command->parsed()) return evaluate(common, evaluate_options);
        if (certify_command->parsed()) return certify(common, certify_options);
        if (verify_command->parsed()) return verify(common, verify_options);
        if (list_command->parsed()) return list(common);
        if (compare_command->parsed()) return compare(common, compare_options);
        if (adjust_command->parsed()) return adjust(common, adjust_options);
        if (field_command->parsed()) return field_check(common, field_options);
        if (serve_command->parsed()) return serve(common, serve_options);
    } catch (const std::exception& error) {
        return fail(common, {FaultCode::inconsistent, error.what(), "tipwright", "report this as a defect"},
                    ExitCode::defect);
    }
    return ExitCode::defect;
}

}  // namespace tipwright::program
