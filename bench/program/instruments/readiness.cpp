#include "bench/program/instruments/readiness.hpp"

#include <algorithm>
#include <cmath>

#include "bench/program/letters.hpp"
#include "bench/run/pump_use.hpp"
#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

constexpr std::size_t checks_bytes_max = 4u << 20;
constexpr std::size_t reason_bytes_max = 300;
// What a tube that stood, was moved or was changed may do to the scale of a calibration (no source: bench
// practice). The run weighs its own flow from the first tips on; this only must not be too sure.
constexpr double stood_u = 0.03;
// Tube ageing 0.5 to 2 % per hour of pumping (common practice, no source), in one direction at first and then
// slower.
constexpr double worn_u_per_hour = 0.01;
constexpr double worn_u_max = 0.2;

std::string named(const bench::InstrumentDescription& instrument) {
    return "the " + instrument.role + (instrument.serial.empty() ? "" : " (" + instrument.serial + ")");
}

}  // namespace

Result<KeptChecks> load_checks(const std::string& bench, const std::filesystem::path& wanted) {
    KeptChecks kept;
    std::error_code error;
    if (!wanted.empty()) {
        kept.file = wanted;
    } else if (std::filesystem::is_regular_file(bench, error)) {
        kept.file =
            std::filesystem::path(bench).replace_extension(std::string(bench::checks_ending) + ".toml");
    }
    if (kept.file.empty() || !std::filesystem::exists(kept.file, error)) return kept;
    const auto text = read_file(kept.file, checks_bytes_max);
    if (!text) return text.fault();
    auto checks = bench::parse_bench_checks({kept.file.string(), *text});
    if (!checks) return checks.fault();
    kept.checks = std::move(*checks);
    return kept;
}

Outcome save_checks(const KeptChecks& kept) {
    if (kept.file.empty()) return Done{};
    return write_file(kept.file, bench::text_of(kept.checks));
}

Result<Readiness> readiness_of(const bench::BenchDescription& bench, const bench::BenchChecks& checks,
                               const std::string& moment, const std::string& reason) {
    if (reason.size() > reason_bytes_max || visible(reason) != reason) {
        return Fault{FaultCode::bad_value, "the reason must be one line of up to 300 bytes", "--reason",
                     "say it shorter"};
    }
    if (auto letters = check_letters(reason, "--reason"); !letters) return letters.fault();
    Readiness readiness;
    std::vector<bench::InstrumentDescription> instruments = bench.instruments;
    instruments.insert(instruments.end(), bench.hand_instruments.begin(), bench.hand_instruments.end());
    for (const auto& instrument : instruments) {
        // ISO dates compare as text.
        const auto against = [&](const std::string& text, bench::Concession concession) {
            readiness.against.push_back(text);
            concession.role = instrument.role;
            concession.serial = instrument.serial;
            concession.reason = reason;
            readiness.concessions.push_back(std::move(concession));
        };
        if (!instrument.due_on.empty() && instrument.due_on < moment.substr(0, 10)) {
            bench::Concession overdue;
            overdue.since = instrument.due_on;
            against("the calibration of " + named(instrument) + " was due on " + instrument.due_on, overdue);
        }
        if (instrument.role == "balance") {
            const auto* check = checks.balance(instrument.serial);
            if (check != nullptr && !check->passed) {
                bench::Concession failed;
                failed.nonconformity = bench::Nonconformity::check_failed;
                failed.since = check->at.substr(0, 10);
                failed.error_g = check->error_g;
                failed.mass_g = check->mass_g;
                against(named(instrument) + " failed its check of " + failed.since + ": " +
                            calib::fixed(check->error_g, 3) + " g off at " + calib::fixed(check->mass_g, 1) +
                            " g",
                        failed);
            }
        }
        if (instrument.role == "pump") {
            if (const auto* pump = checks.pump(instrument.serial)) {
                const double worn_u =
                    std::min(worn_u_per_hour * checks.hours_since(instrument.serial, pump->at), worn_u_max);
                readiness.pump_scale =
                    bench::KnownPumpScale{pump->scale, std::hypot(pump->relative_u, stood_u, worn_u)};
            }
            const auto tube = checks.tube(instrument.serial);
            if (tube && bench.tube_life_h > 0 && tube->hours > bench.tube_life_h)
                readiness.told.push_back(
                    "The tube of " + named(instrument) + " has run " + tube_text(*tube) +
                    ", longer than the " + calib::fixed(bench.tube_life_h, 0) +
                    " h of its bench description: change it, then calibrate the pump with "
                    "--tube-h 0.");
        }
    }
    if (!readiness.against.empty() && reason.empty())
        return Fault{FaultCode::not_permitted, joined(readiness.against), bench.text.name,
                     "have it calibrated or checked, or accept it with --reason \"TEXT\", which the record "
                     "then states"};
    for (const std::string& one : readiness.against) {
        std::string remark = one;
        remark.append("; the work went on despite that: ").append(reason).append(".");
        remark.front() = 'T';
        readiness.remarks.push_back(std::move(remark));
    }
    return readiness;
}

std::string tube_text(const bench::TubeAge& age) {
    return (age.whole ? "" : "at least ") + calib::fixed(age.hours, 1) + " h";
}

std::optional<std::string> keep_pump_hours(const std::string& name, const std::filesystem::path& checks,
                                           const bench::BenchDescription& bench,
                                           const std::filesystem::path& journal,
                                           const std::string& started_at) {
    const auto not_kept = [](const Fault& fault) {
        return "The pump's hours were not kept: " + fault.line();
    };
    auto kept = load_checks(name, checks);
    if (!kept) return not_kept(kept.fault());
    if (kept->file.empty()) return std::nullopt;
    const auto hours = bench::pumping_h(journal);
    if (!hours) return not_kept(hours.fault());
    if (!(*hours > 0)) return std::nullopt;
    const auto pump =
        std::find_if(bench.instruments.begin(), bench.instruments.end(),
                     [](const bench::InstrumentDescription& one) { return one.role == "pump"; });
    kept->checks.add({started_at, pump == bench.instruments.end() ? "" : pump->serial, *hours});
    if (const auto saved = save_checks(*kept); !saved) return not_kept(saved.fault());
    return std::nullopt;
}

Result<Readiness> readiness_of_bench(const std::string& name, const bench::BenchDescription& bench,
                                     const std::string& moment, const std::string& reason) {
    const auto kept = load_checks(name, {});
    if (!kept) return kept.fault();
    return readiness_of(bench, kept->checks, moment, reason);
}

}  // namespace tipwright::program
