// Descriptions: gauges, plans and benches as data. Read from TOML; every error names file, line, column.
// `text` keeps the words of the file, so that the journal can carry them and be evaluated without it.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "bench/descriptions/description_text.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/base/laboratory_facts.hpp"
#include "calib/base/plan.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::bench {

struct PartyDescription {
    std::string name;
    std::string address;
    std::string contact;
};

// A gauge file names its kind (kind = "siphon-200"); a kind file alone is a gauge without identity.
struct GaugeDescription {
    std::string kind;  // id: stem of the kind file
    std::string kind_title;
    std::string model;
    std::string serial;
    std::string condition;
    std::string station;
    std::string received_on;
    std::string catch_diameter_method;
    PartyDescription customer;
    bool invented = false;
    calib::Gauge gauge;
    std::optional<GaugeTruth> truth;  // only used by a virtual bench
    DescriptionText kind_text;
    DescriptionText text;  // empty when the kind file was given alone
};

struct InstrumentDescription {
    std::string role;     // balance, pump, counter, climate; of those read by hand: caliper
    std::string profile;  // name of a file in templates/instruments
    std::string link;     // "virtual", "serial /dev/ttyUSB0", "tcp 127.0.0.1:4001", "pty /dev/pts/3"
    std::string description;
    std::string serial;
    std::string certificate;
    std::string calibrated_on;
    std::string due_on;
    std::string traceability;
    std::string issued_by;      // laboratory that issued the certificate
    std::string accreditation;  // its accreditation
};

// Interlocks: what is passed stops the pump.
struct BenchLimits {
    double run_h = 24;        // longest run, bench time
    double rise_g_min = 600;  // fastest lasting rise of the balance; absent: 1.5 times the largest flow
    double fall_g = 0.5;      // largest fall of the balance while the vessel is not emptied
    double hang_s = 2;        // longest real time without a keep-alive of the program's event loop
};

struct BenchDescription {
    std::string title;
    PartyDescription laboratory;
    std::string place;
    std::string operator_name;
    std::string authorised_by;
    bool invented = false;
    std::vector<InstrumentDescription> instruments;
    std::vector<InstrumentDescription> hand_instruments;  // read by eye, without profile and link: a caliper
    calib::BenchMetrology metrology;
    calib::LaboratoryFacts facts;
    double vessel_capacity_g = 2000;  // water, never exceeded
    bool has_drain_valve = true;      // otherwise the operator empties the vessel when asked
    // What the balance shows with the empty vessel on it: empty_g of [vessel], or what a virtual bench puts
    // there. Nothing: nobody said.
    std::optional<double> vessel_empty_g;
    double max_flow_mL_min = 400;
    double tube_life_h = 0;  // after which the pump's tube is to be changed; 0: not known
    BenchLimits limits;
    std::optional<BenchTruth> truth;  // present: a virtual bench
    DescriptionText text;
};

struct PlanDescription {
    calib::Plan plan;
    DescriptionText text;
};

Result<GaugeDescription> parse_gauge(const DescriptionText& text, const DescriptionText& kind_text);
Result<BenchDescription> parse_bench(const DescriptionText& text);
Result<PlanDescription> parse_plan(const DescriptionText& text);

// A file, or the name of a template: gauges/, gauge_kinds/, benches/, plans/ under the templates folder.
// A plan that names a limits file gets its text put inside, so that PlanDescription::text stands alone.
Result<GaugeDescription> load_gauge(const std::string& file_or_name, const std::filesystem::path& templates);
Result<BenchDescription> load_bench(const std::string& file_or_name, const std::filesystem::path& templates);
Result<PlanDescription> load_plan(const std::string& file_or_name, const std::filesystem::path& templates);
Result<calib::Limits> load_limits(const std::string& file_or_name, const std::filesystem::path& templates);

// Can this gauge go through this plan on this bench: flow, vessel, limits of the pump.
Outcome check_together(const GaugeDescription& gauge, const PlanDescription& plan,
                       const BenchDescription& bench);

enum class TemplateKind { gauge_kind, gauge, plan, limits, bench, profile, lanes };
// Its text: a file, or the name of a template of that kind. Fault: file_missing with the names there are,
// file_unreadable, file_too_large.
Result<DescriptionText> find_template(TemplateKind kind, const std::string& file_or_name,
                                      const std::filesystem::path& templates);

struct TemplateEntry {
    std::string name;            // as it may be given for a file
    std::string title;           // for people
    std::optional<Fault> fault;  // why it cannot be used
};

// Loads the file as it would be for use; its title, or why it cannot be used.
using TitleOf = std::function<Result<std::string>(const std::string& file)>;
// Templates of one kind, ascending name. Fault: file_missing when the folder is not there.
Result<std::vector<TemplateEntry>> list_templates(TemplateKind kind, const std::filesystem::path& templates,
                                                  const TitleOf& title_of);

}  // namespace tipwright::bench
