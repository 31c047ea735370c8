#include <cmath>
#include <limits>

#include "bench/descriptions/adjustment.hpp"
#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/parts.hpp"
#include "calib/base/rim.hpp"

namespace tipwright::bench {
namespace {

// A kind must state its values; a gauge file may replace some of them.
class Values {
public:
    Values(TomlTable& table, bool kind) : table_(table), kind_(kind) {}

    void number(std::string_view key, double& value, NumberRange range, bool must = false) {
        value = table_.number(key, range, must && kind_ ? std::nullopt : std::optional(value));
    }

private:
    TomlTable& table_;
    bool kind_;
};

void check_together(TomlTable& table, const calib::Gauge& gauge) {
    if (gauge.inlet == calib::Inlet::siphon && gauge.siphon_volume_mL == 0)
        table.fault(FaultCode::missing_field, "inlet", "a siphon inlet needs siphon_volume_mL",
                    "give the volume one emptying of the siphon delivers");
    if (gauge.inlet == calib::Inlet::straight && gauge.siphon_volume_mL != 0)
        table.fault(FaultCode::inconsistent, "siphon_volume_mL",
                    "siphon_volume_mL is given, but the inlet is straight", "set inlet = \"siphon\"");
    const double shortest_interval_s = 3600 * gauge.nominal_tip_mm / gauge.max_intensity_mm_h;
    if (!(gauge.debounce_s < shortest_interval_s / 2))
        table.fault(FaultCode::inconsistent, "debounce_s",
                    "debounce_s is " + shortest(gauge.debounce_s) + ", but tips come every " +
                        shortest(std::round(shortest_interval_s * 1000) / 1000) + " s at max_intensity_mm_h",
                    "choose less than half of that");
    const double u = gauge.catch_diameter_mm.u;
    if (!(u < 0.05 * gauge.catch_diameter_mm.value))
        table.fault(FaultCode::bad_value, "catch_diameter_u_mm",
                    "catch_diameter_u_mm is " + shortest(u) + ", must be below 5 % of the diameter", "");
}

void read_gauge(TomlTable& table, calib::Gauge& gauge, std::string& method, bool kind,
                const FaultList& faults) {
    Values values(table, kind);
    values.number("nominal_tip_mm", gauge.nominal_tip_mm, {0.01, 2, "mm"}, true);
    values.number("catch_diameter_mm", gauge.catch_diameter_mm.value, {50, 700, "mm"}, true);
    values.number("catch_diameter_u_mm", gauge.catch_diameter_mm.u, {0.001, 10, "mm"}, true);
    values.number("catch_diameter_dof", gauge.catch_diameter_mm.dof,
                  {1, std::numeric_limits<double>::infinity(), ""});
    method = table.text_or("catch_diameter_method", method);
    gauge.compartments =
        table.whole_number("compartments", 1, 2, kind ? std::nullopt : std::optional(gauge.compartments));
    gauge.inlet =
        table.choice("inlet", {"straight", "siphon"},
                     kind ? std::nullopt : std::optional(static_cast<std::size_t>(gauge.inlet))) == 0
            ? calib::Inlet::straight
            : calib::Inlet::siphon;
    values.number("siphon_volume_mL", gauge.siphon_volume_mL, {0.1, 200, "mL"});
    values.number("siphon_tail_percent", gauge.siphon_tail_percent, {0, 100, "%"});
    if (kind || table.has("contacts")) {
        gauge.contacts.clear();
        for (const std::string& contact : table.texts("contacts")) {
            if (contact != "normally open" && contact != "normally closed")
                table.fault(FaultCode::bad_value, "contacts",
                            "gauge.contacts holds " + in_quotes(contact) +
                                ", must hold \"normally open\" or \"normally closed\"",
                            "");
            gauge.contacts.push_back({contact == "normally closed"});
        }
        if (faults.empty() && (gauge.contacts.empty() || gauge.contacts.size() > 2))
            table.fault(
                FaultCode::bad_value, "contacts",
                "contacts has " + std::to_string(gauge.contacts.size()) + " entries, must have one or two",
                "");
    }
    values.number("debounce_s", gauge.debounce_s, {0.001, 2, "s"});
    values.number("max_intensity_mm_h", gauge.max_intensity_mm_h, {10, 3000, "mm/h"}, true);
    table.finish();
    if (faults.empty()) check_together(table, gauge);
}

void read_truth(TomlTable& table, GaugeTruth& truth, const calib::Gauge& gauge, const FaultList& faults) {
    Values values(table, false);
    values.number("volume_excess_percent", truth.volume_excess_percent, {-60, 60, "%"});
    values.number("a_excess_percent", truth.a_excess_percent, {-60, 60, "%"});
    values.number("tip_scatter_percent", truth.tip_scatter_percent, {0, 20, "%"});
    values.number("movement_time_s", truth.movement_time_s, {0, 2, "s"});
    values.number("movement_growth_s2_mL", truth.movement_growth_s2_mL, {-1, 5, "s2/mL"});
    values.number("closure_s", truth.closure_s, {0.001, 1, "s"});
    values.number("bounce_probability", truth.bounce_probability, {0, 1, ""});
    values.number("bounce_s", truth.bounce_s, {0, 0.1, "s"});
    values.number("second_contact_delay_s", truth.second_contact_delay_s, {-0.2, 0.2, "s"});
    values.number("siphon_volume_mL", truth.siphon_volume_mL, {0, 200, "mL"});
    values.number("siphon_scatter_percent", truth.siphon_scatter_percent, {0, 30, "%"});
    values.number("siphon_flow_mL_s", truth.siphon_flow_mL_s, {0, 100, "mL/s"});
    values.number("funnel_lag_s", truth.funnel_lag_s, {0, 60, "s"});
    values.number("wetting_mL", truth.wetting_mL, {0, 50, "mL"});
    values.number("drain_delay_s", truth.drain_delay_s, {0, 30, "s"});
    values.number("drain_lag_s", truth.drain_lag_s, {0.01, 30, "s"});
    values.number("splash_percent_per_mL_s", truth.splash_percent_per_mL_s, {0, 20, "%/(mL/s)"});
    table.finish();
    if (!faults.empty()) return;
    const bool siphon = gauge.inlet == calib::Inlet::siphon;
    if (siphon && (truth.siphon_volume_mL == 0 || truth.siphon_flow_mL_s == 0))
        table.fault(FaultCode::missing_field, "siphon_flow_mL_s",
                    "a siphon needs siphon_volume_mL and siphon_flow_mL_s in [virtual]", "give both");
    if (!siphon && truth.siphon_volume_mL != 0)
        table.fault(FaultCode::inconsistent, "siphon_volume_mL",
                    "siphon_volume_mL is given, but the inlet is straight", "remove it");
    if (gauge.compartments == 1 && truth.a_excess_percent != 0)
        table.fault(FaultCode::inconsistent, "a_excess_percent",
                    "a_excess_percent is " + shortest(truth.a_excess_percent) +
                        ", but a spoon has a single compartment",
                    "remove it");
}

StopScrews read_adjustment(TomlTable table) {
    StopScrews out;
    if (!table.given()) return out;
    if (table.has("mL_per_turn") || table.has("mL_per_turn_u")) {
        const double mL = table.number("mL_per_turn", {0.001, 20, "mL"});
        const double u = table.number("mL_per_turn_u", {0.0001, 10, "mL"});
        out.mL_per_turn = calib::Uncertain{mL, u};
    }
    const auto one_of = [&](const char* key, const std::string& first, const std::string& second) {
        std::string word = table.text_or(key, "");
        if (!word.empty() && word != first && word != second)
            table.fault(FaultCode::bad_value, key, std::string(key) + " is " + in_quotes(word),
                        "write \"" + first + "\" or \"" + second + "\"");
        return word;
    };
    const std::string more = one_of("more", "clockwise", "anticlockwise");
    if (!more.empty()) out.clockwise_is_more = more == "clockwise";
    out.marks.a = table.text_or("side_a", "");
    out.marks.b = table.text_or("side_b", "");
    const std::string up = one_of("side_up", "A", "B");
    if (!up.empty()) out.side_up = up[0];
    table.finish();
    return out;
}

struct Kind {
    std::string title;
    std::string method;
    calib::Gauge gauge;
    std::optional<GaugeTruth> truth;
};

Result<Kind> parse_kind(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    Kind kind;
    kind.title = root.text("title");
    TomlTable gauge = root.required_table("gauge");
    if (gauge.given()) read_gauge(gauge, kind.gauge, kind.method, true, faults);
    read_adjustment(root.table("adjustment"));
    TomlTable truth = root.table("virtual");
    root.finish();
    if (truth.given()) {
        kind.truth.emplace();
        if (kind.gauge.compartments == 1) kind.truth->a_excess_percent = 0;
        read_truth(truth, *kind.truth, kind.gauge, faults);
    }
    if (!faults.empty()) return faults.first();
    return kind;
}

std::string stem(const std::string& name) {
    const auto slash = name.find_last_of("/\\");
    std::string file = slash == std::string::npos ? name : name.substr(slash + 1);
    if (file.ends_with(".toml")) file.resize(file.size() - 5);
    return file;
}

}  // namespace

Result<StopScrews> parse_stop_screws(const DescriptionText& kind_text) {
    const Result<TomlValue> tree = parse_toml(kind_text);
    if (!tree) return tree.fault();
    FaultList faults(kind_text.name);
    TomlTable root(&*tree, {}, "", faults);
    auto value = read_adjustment(root.table("adjustment"));
    if (!faults.empty()) return faults.first();
    return value;
}

PartyDescription read_party(TomlTable table) {
    PartyDescription party;
    if (!table.given()) return party;
    party.name = table.text("name");
    party.address = table.text_or("address", "");
    party.contact = table.text_or("contact", "");
    table.finish();
    return party;
}

// As a gauge's, and whoever reads it must know: this gauge's rim was not measured, however the kind says it.
std::string of_kind(const std::string& method) {
    std::string plain{calib::rim_not_measured};
    if (method.empty()) return plain;
    return method.starts_with(plain) ? method : plain + " (" + method + ")";
}

Result<GaugeDescription> parse_gauge(const DescriptionText& text, const DescriptionText& kind_text) {
    const Result<Kind> kind = parse_kind(kind_text);
    if (!kind) return kind.fault();
    GaugeDescription out;
    out.kind = stem(kind_text.name);
    out.kind_title = kind->title;
    out.gauge = kind->gauge;
    out.truth = kind->truth;
    out.catch_diameter_method = of_kind(kind->method);
    out.kind_text = kind_text;
    if (text.name.empty() && text.text.empty()) return out;

    out.text = text;
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    const std::string named = root.text("kind");
    if (!named.empty() && stem(named) != out.kind)
        root.fault(FaultCode::inconsistent, "kind",
                   "kind is " + in_quotes(named) + ", but the kind given with it is " + in_quotes(out.kind),
                   "");
    out.model = root.text("model");
    out.serial = root.text("serial");
    out.condition = root.text_or("condition", "");
    out.station = root.text_or("station", "");
    out.received_on = root.date("received_on");
    out.invented = root.flag("invented", false);
    out.customer = read_party(root.table("customer"));
    TomlTable gauge = root.table("gauge");
    const bool own_rim = gauge.given() && gauge.has("catch_diameter_mm");
    const bool own_method = gauge.given() && gauge.has("catch_diameter_method");
    if (gauge.given()) read_gauge(gauge, out.gauge, out.catch_diameter_method, false, faults);
    // How the kind's diameter came about is no word about a diameter of this gauge's own.
    if (own_rim && !own_method) out.catch_diameter_method.clear();
    TomlTable truth = root.table("virtual");
    root.finish();
    if (truth.given()) {
        if (!out.truth) out.truth.emplace();
        read_truth(truth, *out.truth, out.gauge, faults);
    }
    if (!faults.empty()) return faults.first();
    return out;
}

Result<std::string> kind_named_by(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    const TomlEntry* kind = tree->find("kind");
    if (kind == nullptr) {
        for (const char* key : {"serial", "model", "customer"})
            if (tree->find(key) != nullptr)
                return Fault{FaultCode::missing_field, "kind is not given", where(text.name, {}),
                             "add for example kind = \"bucket-200-twin\" at the top of the file"};
        return std::string();
    }
    if (kind->value.kind != TomlKind::text || kind->value.text.empty())
        return Fault{FaultCode::bad_value, "kind must be a text", where(text.name, kind->value.at),
                     "write for example kind = \"bucket-200-twin\""};
    return kind->value.text;
}

}  // namespace tipwright::bench
