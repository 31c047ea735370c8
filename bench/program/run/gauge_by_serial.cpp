#include "bench/program/run/gauge_by_serial.hpp"

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/reading.hpp"
#include "bench/journal/file_name.hpp"
#include "bench/journal/holder.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/run/lane_run.hpp"
#include "bench/program/run/work_folder.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

// The register's words as a gauge file, beside the runs.
Result<std::string> gauge_file_text(report::Register& reg, const report::GaugeEntry& gauge) {
    std::string out = "# Made from the register; change it there.\n";
    const auto line = [&](const char* key, const std::string& value) {
        if (!value.empty()) out += std::string(key) + " = " + value + "\n";
    };
    const auto words = [&](const char* key, const std::string& text) {
        if (!text.empty()) line(key, bench::toml_quoted(text));
    };
    words("kind", gauge.kind);
    words("model", gauge.model);
    words("serial", gauge.serial);
    if (gauge.note.starts_with(invented_note)) line("invented", "true");
    report::ListFilter of_this;
    of_this.serial = gauge.serial;
    const auto orders = reg.list_orders(of_this, true);
    if (!orders) return orders.fault();
    for (const auto& row : orders->rows) {
        if (report::text_of(row[2]) != gauge.model) continue;
        line("received_on", report::text_of(row[3]));
        words("condition", report::text_of(row[4]));
        break;
    }
    if (gauge.station != 0) {
        const auto station = reg.station(gauge.station);
        if (!station) return station.fault();
        words("station", station->name);
    }
    if (gauge.customer != 0) {
        const auto customer = reg.customer(gauge.customer);
        if (!customer) return customer.fault();
        out += "\n[customer]\n";
        words("name", customer->name);
        words("address", customer->address);
        words("contact", customer->contact);
    }
    if (gauge.catch_diameter_mm && gauge.catch_diameter_u_mm) {
        out += "\n[gauge]\n";
        line("catch_diameter_mm", bench::shortest(*gauge.catch_diameter_mm));
        line("catch_diameter_u_mm", bench::shortest(*gauge.catch_diameter_u_mm));
        words("catch_diameter_method", gauge.catch_method);
    }
    return out;
}

Result<std::string> gauge_of(const CommonOptions& common, const CalibrateOptions& options) {
    std::error_code ignored;
    for (const std::string& name : {options.serial, options.serial + ".toml"})
        if (fs::is_regular_file(name, ignored)) return name;
    auto reg = open_register({options.entering.session.location, {}});
    if (!reg) {
        Fault fault = reg.fault();
        if (fault.code == FaultCode::file_missing)
            return Fault{FaultCode::file_missing,
                         "there is neither a file " + in_quotes(options.serial + ".toml") + " nor a register",
                         options.serial, "name the gauge's file with --gauge, or a register with --register"};
        return fault;
    }
    const auto gauge = gauge_meant(*reg, options.serial, "");
    if (!gauge) return gauge.fault();
    const auto text = gauge_file_text(*reg, *gauge);
    if (!text) return text.fault();
    const fs::path folder = options.entering.work / folder_name(options.serial);
    if (auto made = make_folder(folder); !made) return made.fault();
    const fs::path file = folder / "gauge.toml";
    if (auto written = write_file(file, *text); !written) return written.fault();
    if (auto good = bench::load_gauge(file.string(), common.templates); !good) {
        Fault fault = good.fault();
        fault.remedy = "correct the gauge in the register: tipwright register gauge change " + options.serial;
        return fault;
    }
    return file.string();
}

}  // namespace

Result<bench::GaugeDescription> gauge_of_register(const CommonOptions& common, report::Register& reg,
                                                  const report::GaugeEntry& gauge) {
    const auto text = gauge_file_text(reg, gauge);
    if (!text) return text.fault();
    const auto kind = bench::find_template(bench::TemplateKind::gauge_kind, gauge.kind, common.templates);
    if (!kind) return kind.fault();
    auto parsed = bench::parse_gauge({"gauge " + gauge.serial + " of the register", *text}, *kind);
    if (!parsed) {
        Fault fault = parsed.fault();
        fault.remedy = "correct the gauge in the register: tipwright register gauge change " + gauge.serial;
        return fault;
    }
    return parsed;
}

Result<CalibrateOptions> with_settings(const CommonOptions& common, CalibrateOptions options) {
    const auto missing = [](const std::string& what, const std::string& option, const std::string& remedy) {
        return Fault{FaultCode::usage, what, option, remedy};
    };
    if (options.serial.empty() == options.gauge.empty())
        return missing(options.serial.empty() ? "no gauge is named" : "a serial and --gauge are both given",
                       "--gauge", "give one: a serial, or --gauge FILE");
    if (options.plan.empty()) {
        options.plan = options.as_left ? options.plan_as_left : options.plan_as_found;
        const std::string key = options.as_left ? "plan_as_left" : "plan_as_found";
        if (options.plan.empty())
            return missing("no plan is named", "--plan",
                           "give one, or set " + key + " in the settings: see 'tipwright settings'");
    }
    if (options.out.empty() && options.serial.empty())
        return missing("no folder is named for the results", "--out", "give one");
    const bool chosen_folder = options.out.empty();
    if (!options.serial.empty()) {
        const auto gauge = gauge_of(common, options);
        if (!gauge) return gauge.fault();
        options.gauge = *gauge;
    }
    if (chosen_folder) {
        const auto bench = bench::load_bench(options.bench, common.templates);
        if (!bench) return bench.fault();
        const auto started_at = start_moment(*bench, options.started_at);
        if (!started_at) return started_at.fault();
        const auto kept = kept_runs(options.entering.work, options.serial);
        // One gauge stands under one pump, whatever its other run is called.
        for (const KeptRun& run : kept)
            if (!run.measured && bench::is_held(run.folder / bench::journal_name))
                return Fault{FaultCode::file_unwritable, "this gauge is being measured now",
                             run.folder.string(), "wait until that run has ended, or stop it"};
        for (const KeptRun& run : kept)
            if (!run.measured && !run.given_up && run.as_left == options.as_left &&
                run.day == started_at->substr(0, 10))
                return Fault{FaultCode::file_unwritable, "a run of today is unfinished", run.folder.string(),
                             "resume it or close it: tipwright recover " + run.folder.string()};
        options.out =
            new_run_folder(options.entering.work, options.serial, started_at->substr(0, 10), options.as_left);
    }
    return options;
}

}  // namespace tipwright::program
