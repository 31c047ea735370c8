#include "bench/supplied/supplied.hpp"

#include <algorithm>
#include <cmath>

#include "bench/supplied/forms.hpp"
#include "bench/supplied/metadata.hpp"
#include "bench/supplied/table.hpp"
#include "calib/base/rim.hpp"
#include "report/files/files.hpp"

namespace tipwright::bench {
namespace {

PartyDescription read_party(Metadata& metadata, const std::string& who) {
    PartyDescription party;
    party.name = metadata.text_or(who + ".name", "");
    party.address = metadata.text_or(who + ".address", "");
    party.contact = metadata.text_or(who + ".contact", "");
    return party;
}

void read_gauge(Metadata& metadata, GaugeDescription& out) {
    out.model = metadata.text("gauge.model");
    out.serial = metadata.text("gauge.serial");
    out.condition = metadata.text_or("gauge.condition", "");
    out.station = metadata.text_or("gauge.station", "");
    out.received_on = metadata.date("gauge.received_on");
    out.catch_diameter_method =
        metadata.text_or("gauge.catch_diameter_method", std::string(calib::rim_as_supplied));
    calib::Gauge& gauge = out.gauge;
    gauge.nominal_tip_mm = metadata.number("gauge.nominal_tip_mm", {0.001, 100, "mm"});
    gauge.catch_diameter_mm.value = metadata.number("gauge.catch_diameter_mm", {20, 1000, "mm"});
    gauge.catch_diameter_mm.u = metadata.number("gauge.catch_diameter_u_mm", {0, 50, "mm"});
    gauge.compartments = metadata.whole_number("gauge.compartments", 1, 2);
    out.kind_title =
        metadata.text_or("gauge.kind", gauge.compartments == 1 ? "single spoon" : "two-compartment bucket");
    gauge.inlet = metadata.choice("gauge.inlet", {"straight", "siphon"}, 0) == 0 ? calib::Inlet::straight
                                                                                 : calib::Inlet::siphon;
    gauge.siphon_volume_mL = metadata.number("gauge.siphon_volume_mL", {0, 10000, "mL"}, 0);
    gauge.siphon_tail_percent = metadata.number("gauge.siphon_tail_percent", {0, 100, "%"}, 0);
    gauge.contacts.resize(static_cast<std::size_t>(metadata.whole_number("gauge.contacts", 1, 2, 1)));
    gauge.max_intensity_mm_h = metadata.number("gauge.max_intensity_mm_h", {0, 5000, "mm/h"}, 0);
    if (gauge.inlet == calib::Inlet::straight && gauge.siphon_volume_mL != 0)
        metadata.fault(FaultCode::inconsistent, "gauge.siphon_volume_mL",
                       "gauge.siphon_volume_mL is given, but the inlet is straight",
                       "add \"# gauge.inlet = siphon\"");
}

// What the table holds decides which statements it needs; the others may stand there without effect.
struct Given {
    bool masses = false;
    bool volumes = false;
    bool durations = false;
    bool temperature_column = false;
};

class Statements {
public:
    Statements(Metadata& metadata, std::vector<std::string>& assumptions)
        : metadata_(metadata), assumptions_(assumptions) {}

    // A value that was not stated is replaced by a cautious one, and that is said, where it has an effect.
    double number(std::string_view name, NumberRange range, double assumed, bool matters,
                  const std::string& said) {
        if (matters && !metadata_.has(name))
            assumptions_.push_back(std::string(name) + " was not stated: " + said);
        return metadata_.number(name, range, assumed);
    }
    double needed(std::string_view name, NumberRange range, bool matters) {
        return metadata_.number(name, range, matters ? std::nullopt : std::optional(range.low));
    }

private:
    Metadata& metadata_;
    std::vector<std::string>& assumptions_;
};

// Of a measure of which only one uncertainty is told. Most of it is how its marks were set, the same at every
// step; a straight line's level hangs on that (common practice, no source).
constexpr double measure_share_in_common = 0.9;

void read_balance_metrology(Metadata& metadata, const Given& given, SuppliedMeasurements& out) {
    Statements stated(metadata, out.assumptions);
    calib::BalanceMetrology& balance = out.metrology.balance;
    balance.resolution_g = stated.needed("balance.resolution_g", {1e-5, 100, "g"}, given.masses);
    const double step = balance.resolution_g;
    balance.repeatability_g = stated.number("balance.repeatability_g", {0, 100, "g"}, step, given.masses,
                                            "taken as one display step, " + shortest(step) + " g");
    balance.repeatability_dof = metadata.number("balance.repeatability_dof", {1, 1e6, ""}, 9);
    balance.linearity_half_width_g =
        stated.number("balance.linearity_half_width_g", {0, 100, "g"}, 2 * step, given.masses,
                      "taken as two display steps, " + shortest(2 * step) + " g");
    balance.calibration_relative_u = stated.number("balance.calibration_relative_u", {0, 0.1, ""}, 1e-4,
                                                   given.masses, "0.01 % of the reading assumed");
    // What these would add to a table of finished masses is part of the other statements.
    balance.drift_relative_half_width = 0;
    balance.zero_drift_half_width_g_h = 0;
    const double measure_u_mL = stated.needed("measure.u_mL", {1e-6, 1e4, "mL"}, given.volumes);
    if (given.volumes) {
        const double in_common = stated.number("measure.common_u_mL", {0, 0.9999 * measure_u_mL, "mL"},
                                               std::sqrt(measure_share_in_common) * measure_u_mL, true,
                                               "nine tenths of the variance of measure.u_mL taken as the "
                                               "measure's own error, alike at every step");
        // evaluate_step takes the balance's repeatability for what reading a measure adds, its linearity for
        // the measure's own error.
        balance.repeatability_g = std::sqrt(measure_u_mL * measure_u_mL - in_common * in_common);
        balance.repeatability_dof = calib::infinite_dof;
        balance.linearity_half_width_g = std::sqrt(3.0) * in_common;
    }
}

calib::Conditions read_conditions(Metadata& metadata, const Given& given, SuppliedMeasurements& out) {
    Statements stated(metadata, out.assumptions);
    calib::BenchMetrology& bench = out.metrology;
    calib::Conditions conditions;
    const bool known = given.temperature_column || metadata.has("water_temperature_C");
    conditions.water_temperature_C = stated.number("water_temperature_C", {0, 50, "degC"}, 20,
                                                   given.masses && !known, "20 °C with u = 3 K assumed");
    bench.water_temperature_u_C = metadata.number("water_temperature_u_C", {0, 20, "K"}, known ? 0.5 : 3.0);
    // Air matters through buoyancy only: 1 K, 3 hPa or 50 % of humidity are 0.0005 % of the mass. It stands
    // among the conditions all the same, so what was not stated is named.
    conditions.air_temperature_C =
        stated.number("air_temperature_C", {0, 50, "degC"}, conditions.water_temperature_C, given.masses,
                      "that of the water assumed");
    conditions.air_pressure_hPa =
        stated.number("air_pressure_hPa", {500, 1100, "hPa"}, 1000, given.masses, "1000 hPa assumed");
    conditions.relative_humidity_percent =
        stated.number("relative_humidity_percent", {0, 100, "%"}, 50, given.masses, "50 % assumed");
    bench.air_temperature_u_C = metadata.number("air_temperature_u_C", {0, 20, "K"}, 3);
    bench.air_pressure_u_hPa = metadata.number("air_pressure_u_hPa", {0, 200, "hPa"}, 25);
    bench.relative_humidity_u_percent = metadata.number("relative_humidity_u_percent", {0, 50, "%"}, 20);
    return conditions;
}

void read_bench_metrology(Metadata& metadata, const Given& given, SuppliedMeasurements& out) {
    Statements stated(metadata, out.assumptions);
    calib::BenchMetrology& bench = out.metrology;
    bench.evaporation_g_h.value =
        stated.number("evaporation_g_h", {0, 20, "g/h"}, 0, given.masses && given.durations,
                      "no correction, u = 0.2 g/h assumed");
    bench.evaporation_g_h.u = metadata.number("evaporation_u_g_h", {0, 20, "g/h"}, 0.2);
    bench.residual_u_g = metadata.number("residual_u_g", {0, 5, "g"}, 0);
    bench.discharge_lag_s = 0;
    bench.discharge_delay_s = 0;
    // Two edges make one duration.
    bench.edge_time_u_s = stated.needed("timing.u_s", {1e-6, 3600, "s"}, given.durations) / std::sqrt(2.0);
    bench.clock_relative_u = metadata.number("timing.relative_u", {0, 0.01, ""}, 0);
}

// How the tips were weighed decides how the balance's errors add up; see calib::AmountBy.
void say_how_weighed(SuppliedMeasurements& out, bool volumes) {
    const auto any = [&](calib::AmountBy how) {
        return std::any_of(out.observations.begin(), out.observations.end(),
                           [&](const calib::StepObservation& step) { return step.amount_by == how; });
    };
    if (any(calib::AmountBy::each_tip))
        out.assumptions.push_back(
            std::string("each tip was ") + (volumes ? "measured" : "weighed") + " by itself: the " +
            (volumes ? "measure's uncertainty" : "balance's linearity") + " counts once for every tip");
    if (any(calib::AmountBy::chained))
        out.assumptions.emplace_back(
            "each reading after a tip is the one before the next: the balance's linearity counts once for a "
            "step");
}

void read_balance(Metadata& metadata, SuppliedMeasurements& out) {
    InstrumentDescription balance;
    balance.role = "balance";
    balance.description = metadata.text_or("balance.description", "");
    balance.serial = metadata.text_or("balance.serial", "");
    balance.certificate = metadata.text_or("balance.certificate", "");
    balance.calibrated_on = metadata.date("balance.calibrated_on");
    balance.due_on = metadata.date("balance.due_on");
    balance.traceability = metadata.text_or("balance.traceability", "");
    if (!balance.description.empty()) out.instruments.push_back(std::move(balance));
}

}  // namespace

Result<SuppliedMeasurements> parse_supplied(const DescriptionText& text) {
    const Result<CsvText> csv = parse_csv(text.text, text.name);
    if (!csv) return csv.fault();
    FaultList faults(text.name);
    Metadata metadata(*csv, faults);
    Table table(*csv, faults);
    SuppliedMeasurements out;
    out.text = text;
    out.form = table.has("tip") ? SuppliedForm::per_tip : SuppliedForm::per_step;

    read_gauge(metadata, out.gauge);
    out.gauge.customer = read_party(metadata, "customer");
    out.laboratory = read_party(metadata, "laboratory");
    out.place = metadata.text_or("place", "");
    out.measured_by = metadata.text_or("measured_by", "");
    out.measured_on = metadata.date("date");
    out.source = metadata.text("source");
    out.licence = metadata.text_or("licence", "");
    out.method = metadata.text_or("method", "");
    out.gauge.invented = metadata.flag("invented");
    read_balance(metadata, out);
    const bool masses = table.has("mass_g") || table.has("before_g") || table.has("delta_g");
    const Given given{masses, table.has("volume_mL"), table.has("duration_s") || table.has("time_s"),
                      table.has("water_temperature_C")};
    read_balance_metrology(metadata, given, out);
    const calib::Conditions conditions = read_conditions(metadata, given, out);
    read_bench_metrology(metadata, given, out);
    const auto weighs = static_cast<Weighs>(
        metadata.choice("balance.weighs", {"not stated", "vessel", "gauge", "supply"}, 0));
    metadata.finish();

    const FormInput input{out.gauge.gauge, conditions, weighs, out.metrology.balance.resolution_g};
    if (out.form == SuppliedForm::per_step)
        read_per_step(table, input, out, faults);
    else
        read_per_tip(table, input, out, faults);
    if (!faults.empty()) return faults.first();

    if (out.form == SuppliedForm::per_tip) say_how_weighed(out, given.volumes);
    const bool scatter_known =
        std::all_of(out.observations.begin(), out.observations.end(),
                    [](const calib::StepObservation& step) { return step.scatter.dof > 0; });
    if (!scatter_known)
        out.assumptions.emplace_back("scatter of single tips was not stated and is not in the budget");
    if (out.form == SuppliedForm::per_tip && out.gauge.gauge.compartments == 2 && !table.has("compartment"))
        out.assumptions.emplace_back("compartments were not told apart: their difference counts as scatter");
    out.plan.name = "as supplied";
    for (const calib::StepObservation& step : out.observations)
        out.plan.steps.push_back({step.set_intensity_mm_h, step.tips, step.duration_s.value_or(0)});
    return out;
}

Result<SuppliedMeasurements> load_supplied(const std::filesystem::path& file) {
    Result<std::string> text = read_file(file, csv_bytes_max);
    if (!text) return text.fault();
    return parse_supplied({file.string(), std::move(*text)});
}

}  // namespace tipwright::bench
