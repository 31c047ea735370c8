// tipwright field-check: a check of a gauge where it stands; into its life in the register, and as a page.
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <iostream>
#include <nlohmann/json.hpp>

#include "bench/program/overwrite.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/field_check.hpp"
#include "bench/program/results/field_check_view.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/run/gauge_by_serial.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"
#include "report/files/streams.hpp"
#include "report/register/kept_curve.hpp"

namespace tipwright::program {

namespace {

// The laboratory's last certificate of a gauge.
struct LastCertificate {
    std::string number;
    std::string on;
    report::KeptCurve curve;
    bool invented = false;
};

Result<calib::FieldCheck> evaluate(const FieldCheckOptions& options, const calib::Gauge& gauge,
                                   const std::optional<calib::Uncertain>& certified) {
    std::optional<calib::FieldLimits> limits;
    if (options.limit_percent) limits = calib::FieldLimits{-*options.limit_percent, *options.limit_percent};
    if (options.poured_mL) {
        calib::PourCheck pour;
        pour.poured_mL = {*options.poured_mL, options.poured_u_mL};
        pour.retained_mL = {options.retained_mL, options.retained_u_mL};
        pour.tips = options.tips;
        pour.duration_s = options.duration_s;
        if (options.ended_on_tip) pour.end = calib::FillLevel::at_tip;
        return calib::evaluate_pour(pour, gauge, limits, certified);
    }
    if (options.collected_g) {
        calib::DischargeCheck discharge;
        discharge.weighed_g = {*options.collected_g, options.collected_u_g};
        discharge.lost_g = {options.lost_g, options.lost_u_g};
        discharge.conditions.water_temperature_C = options.water_temperature_C;
        discharge.logged_tips = options.tips;
        discharge.logged_depth_mm = options.logged_depth_mm;
        if (options.began_on_tip) discharge.begin = calib::FillLevel::at_tip;
        if (options.ended_on_tip) discharge.end = calib::FillLevel::at_tip;
        return calib::evaluate_discharge(discharge, gauge, limits, certified);
    }
    return Fault{FaultCode::usage, "neither --poured-mL nor --collected-g was given", "field-check",
                 "give the volume poured in, or the mass collected at the drain"};
}

// What a wrong count often is.
std::string likely_cause(double error_percent) {
    constexpr double near_percent = 6;
    if (std::fabs(error_percent + 50) < near_percent) return "; as if every second one was missed";
    if (std::fabs(error_percent - 100) < near_percent) return "; as if each was counted twice";
    return "";
}

std::string absurd_text(int tips, const calib::FieldCheck& check) {
    return std::to_string(tips) + " tips make an error of " + calib::fixed(check.error_percent.value, 0) +
           " %, where about " + calib::fixed(std::fmax(check.tips_that_fit, 0), 0) + " would fit the water" +
           likely_cause(check.error_percent.value);
}

Fault beyond_belief(const std::string& absurd) {
    return {FaultCode::inconsistent, absurd, "--tips",
            "count again, or keep it with --reason and why it is right"};
}

// Asks for a recount as long as the error is beyond belief; what is kept has its reason in `options`.
Result<calib::FieldCheck> believed(bool may_ask, FieldCheckOptions& options, const calib::Gauge& gauge) {
    for (;;) {
        auto check = evaluate(options, gauge, std::nullopt);
        if (!check || !check->hardly_credible) {
            options.reason.clear();
            return check;
        }
        if (!options.reason.empty()) return check;
        const std::string absurd = absurd_text(options.tips, *check);
        if (!may_ask) return beyond_belief(absurd);
        print_to(stderr, "%s.\nCount again. Number of tips, or Enter alone to keep it: ", absurd.c_str());
        std::string line;
        std::getline(std::cin, line);
        if (!line.empty()) {
            char* end = nullptr;
            const long counted = std::strtol(line.c_str(), &end, 10);
            if (*end == 0 && counted > 0 && counted <= 10'000'000)
                options.tips = static_cast<int>(counted);
            else
                print_to(stderr, "That is not a number of tips.\n");
            if (std::cin) continue;
        }
        print_to(stderr, "Why is it right? ");
        std::getline(std::cin, options.reason);
        if (options.reason.empty())
            return Fault{FaultCode::interrupted, "nothing was kept: " + absurd, "--tips",
                         "count again, or say why it is right"};
    }
}

Result<LastCertificate> last_certificate(report::Register& reg, const report::GaugeEntry& gauge) {
    LastCertificate out;
    report::ListFilter filter;
    filter.serial = gauge.serial;
    const auto numbers = reg.valid_certificates(filter);
    if (!numbers) return numbers.fault();
    for (const std::string& number : *numbers) {
        const auto certificate = reg.certificate(number);
        if (!certificate) return certificate.fault();
        if (certificate->gauge != gauge.id) continue;
        const auto record = kept_sound_record(
            reg, certificate->as_left != 0 ? certificate->as_left : certificate->as_found, number);
        if (!record) return record.fault();
        out = {number, certificate->calibrated_on, report::kept_curve(*record), record->invented};
    }
    return out;
}

// The gauge in the register, where it is to be entered.
struct InRegister {
    report::GaugeEntry entry;
    LastCertificate last;
};

Result<InRegister> find_in_register(report::Register& reg, const std::string& serial) {
    InRegister out;
    auto entry = gauge_meant(reg, serial, "");
    if (!entry) return entry.fault();
    out.entry = std::move(*entry);
    auto last = last_certificate(reg, out.entry);
    if (!last) return last.fault();
    out.last = std::move(*last);
    return out;
}

Result<report::Id> enter(report::Register& reg, const report::Actor& actor, const InRegister& in,
                         const report::FieldCheckFacts& facts, const calib::FieldCheck& check) {
    report::FieldCheckEntry entry;
    entry.gauge = in.entry.id;
    entry.made_on = facts.made_on;
    entry.made_by = facts.made_by;
    entry.method = facts.collected ? "collected" : "poured";
    entry.tips = facts.tips;
    entry.volume_mL = check.volume_mL.value;
    entry.volume_U_mL = calib::expanded(check.volume_mL).U;
    entry.intensity_mm_h = check.intensity_mm_h;
    entry.error_percent = check.error_percent.value;
    entry.U_percent = check.error_expanded.U;
    entry.coverage_factor = check.error_expanded.k;
    entry.limit_percent = facts.limit_percent;
    if (check.conformity) entry.verdict = calib::name_of(check.conformity->verdict);
    entry.accepted_for = facts.accepted_for;
    entry.note = facts.note;
    return reg.add_field_check(actor, entry);
}

// The check, held against the last certificate too, and what is said of it.
Result<FieldCheckDone> evaluated(bool may_ask, FieldCheckOptions& options,
                                 const bench::GaugeDescription& gauge, const InRegister& in,
                                 const std::string& today_is) {
    auto check = believed(may_ask, options, gauge.gauge);
    if (!check) return check.fault();
    if (check->intensity_mm_h && !in.last.curve.empty()) {
        if (const auto point = report::at_intensity(in.last.curve, *check->intensity_mm_h))
            check =
                evaluate(options, gauge.gauge, calib::Uncertain{point->error_percent, point->U_percent / 2});
        if (!check) return check.fault();
    }
    FieldCheckDone out{{}, std::move(*check)};
    report::FieldCheckFacts& facts = out.facts;
    facts.serial = gauge.serial;
    facts.model = gauge.model;
    facts.kind_title = gauge.kind_title;
    facts.station = gauge.station;
    facts.customer = gauge.customer.name;
    facts.made_on = options.made_on.empty() ? today_is : options.made_on;
    facts.made_by = options.made_by.empty() ? options.session.person : options.made_by;
    facts.collected = !options.poured_mL;
    facts.tips = options.tips;
    facts.limit_percent = options.limit_percent;
    facts.accepted_for = options.reason;
    facts.note = options.note;
    facts.last_certificate = in.last.number;
    facts.last_certificate_on = in.last.on;
    facts.invented = gauge.invented || in.last.invented || !trial_time().empty();
    return out;
}

Result<std::string> page_of(const CommonOptions& common, const FieldCheckOptions& options,
                            const report::FieldCheckFacts& facts, const calib::FieldCheck& check) {
    const auto paper = stationery(common, options.paper, options.language);
    if (!paper) return paper.fault();
    return report::draw_field_check(facts, check, *paper);
}

ExitCode field_check(const CommonOptions& common, const FieldCheckOptions& asked) {
    FieldCheckOptions options = asked;
    if (options.serial.empty() == options.gauge.empty())
        return fail(common,
                    {FaultCode::usage,
                     options.serial.empty() ? "no gauge is named" : "a serial and --gauge are both given",
                     "--gauge", "give one: a serial of the register, or --gauge FILE"});
    const auto now = desk_time();
    if (!now) return fail(common, now.fault());
    const bool enters = !options.serial.empty();
    if (enters)
        if (const auto named = actor_of(options.session); !named) return refuse(common, named.fault());
    std::optional<report::Register> reg;
    InRegister in;
    if (enters) {
        auto opened = open_register(options.session);
        if (!opened) return refuse(common, opened.fault());
        reg.emplace(std::move(*opened));
        auto found = find_in_register(*reg, options.serial);
        if (!found) return refuse(common, found.fault());
        in = std::move(*found);
    }
    const auto gauge = enters ? gauge_of_register(common, *reg, in.entry)
                              : bench::load_gauge(options.gauge, common.templates);
    if (!gauge) return fail(common, gauge.fault());
    const bool may_ask = !common.json && ::isatty(STDIN_FILENO) != 0 && ::isatty(STDERR_FILENO) != 0;
    const auto done = evaluated(may_ask, options, *gauge, in, today(*now));
    if (!done) return fail(common, done.fault());
    const report::FieldCheckFacts& facts = done->facts;
    const calib::FieldCheck& check = done->check;
    std::string page;
    if (!options.out.empty()) {
        auto drawn = page_of(common, options, facts, check);
        if (!drawn) return fail(common, drawn.fault());
        page = std::move(*drawn);
    }
    std::optional<report::Actor> actor;
    if (enters) {
        auto known = logged_in(*reg, options.session);
        if (!known) return refuse(common, known.fault());
        actor = std::move(*known);
    }
    // On the disk before it is entered, for a check whose page cannot be written is made once more, not
    // entered twice; in its place after, for what is there stays if nothing is entered.
    std::optional<GrowingFile> file;
    if (!options.out.empty()) {
        file.emplace(options.out);
        file->append(page);
        if (const auto held = file->hold(); !held) return fail(common, held.fault());
    }
    if (enters)
        if (const auto entered = enter(*reg, *actor, in, facts, check); !entered)
            return refuse(common, entered.fault());
    if (file)
        if (auto committed = file->commit(); !committed) {
            if (enters)
                committed.fault().what =
                    "the check is entered, but its page is lost: " + committed.fault().what;
            return fail(common, committed.fault());
        }
    if (common.json) {
        auto document = field_check_for_machines(facts, check);
        document["entered"] = enters;
        if (!options.out.empty()) document["page"] = options.out.string();
        print_json(document);
        return ExitCode::done;
    }
    print_field_check(facts, check);
    if (enters) print_to(stdout, "Entered into the history of gauge %s.\n", in.entry.serial);
    if (!options.out.empty()) print_to(stdout, "Page: %s\n", options.out.c_str());
    return ExitCode::done;
}

}  // namespace

Result<FieldCheckDone> check_in_field(const CommonOptions& common, report::Register& reg,
                                      const report::Actor& actor, FieldCheckOptions options) {
    const auto in = find_in_register(reg, options.serial);
    if (!in) return in.fault();
    const auto gauge = gauge_of_register(common, reg, in->entry);
    if (!gauge) return gauge.fault();
    options.session.person = actor.person;
    auto done = evaluated(false, options, *gauge, *in, today(actor.now));
    if (!done) return done.fault();
    if (const auto entered = enter(reg, actor, *in, done->facts, done->check); !entered)
        return entered.fault();
    return done;
}

void add_field_check(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "field-check",
                    "Check a gauge in the field: known volume poured, or discharge collected", field_check);
    command
        .add_option("serial", options->serial,
                    "Serial of a gauge in the register; the check is entered in its history")
        .type_name("SERIAL");
    command.add_option("--gauge", options->gauge, "Gauge or gauge kind, instead of a serial")
        .type_name("FILE");
    command.add_option("--tips", options->tips, "Tips counted").required();
    // What belongs to the other way of checking is refused, not ignored.
    auto poured = command.add_option("--poured-mL", options->poured_mL, "Known volume poured or dripped in");
    auto collected =
        command
            .add_option("--collected-g", options->collected_g, "Water collected at the drain, weighed later")
            .excludes(poured);
    command.add_option("--poured-u-mL", options->poured_u_mL, "Its standard uncertainty")
        .show_default()
        .excludes(collected);
    command.add_option("--retained-mL", options->retained_mL, "Water that clung to funnel and filter")
        .excludes(collected);
    command.add_option("--retained-u-mL", options->retained_u_mL, "Its standard uncertainty")
        .show_default()
        .excludes(collected);
    command.add_option("--duration-s", options->duration_s, "How long the pouring took, s")
        .excludes(collected);
    command.add_option("--collected-u-g", options->collected_u_g, "Its standard uncertainty")
        .show_default()
        .excludes(poured);
    command.add_option("--lost-g", options->lost_g, "Water evaporated or spilt before weighing")
        .excludes(poured);
    command.add_option("--lost-u-g", options->lost_u_g, "Its standard uncertainty")
        .show_default()
        .excludes(poured);
    command
        .add_option("--water-temperature-C", options->water_temperature_C,
                    "Temperature of the water when weighed")
        .show_default()
        .excludes(poured);
    command
        .add_option("--logged-mm", options->logged_depth_mm,
                    "Depth the logger recorded, if it corrects; for water collected")
        .excludes(poured);
    command.add_flag("--began-on-tip", options->began_on_tip,
                     "Counting began right after a tip (when water is poured it always does)");
    command.add_flag("--ended-on-tip", options->ended_on_tip,
                     "Counting ended right after a tip: no part of one is left over");
    command.add_option("--limit", options->limit_percent, "Allowed error, %");
    command.add_option("--reason", options->reason, "Accept an error above 30 %, for this reason")
        .type_name("TEXT");
    command.add_option("--on", options->made_on, "Day of the check (default: today)").type_name("DATE");
    command.add_option("--by", options->made_by, "Who made the check (default: --person)").type_name("NAME");
    command.add_option("--note", options->note, "Note");
    command.add_option("--out", options->out, "PDF page to write").type_name("FILE");
    add_force(command, options->out);
    command
        .add_option("--language", options->language, "Language of the page: en, de, fr, es, or a words file")
        .show_default();
    add_paper(command, *options);
    add_session(command, options->session);
}

}  // namespace tipwright::program
