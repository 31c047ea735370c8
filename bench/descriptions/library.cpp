#include <algorithm>
#include <cmath>
#include <system_error>

#include "bench/descriptions/bench_checks.hpp"
#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/laboratory_facts.hpp"
#include "bench/descriptions/nearest.hpp"
#include "bench/descriptions/parts.hpp"
#include "calib/base/joined.hpp"
#include "report/files/files.hpp"

namespace tipwright::bench {
namespace {

namespace fs = std::filesystem;

struct Folder {
    const char* name;
    const char* what;
};

Folder folder_of(TemplateKind kind) {
    switch (kind) {
        case TemplateKind::gauge_kind:
            return {"gauge_kinds", "gauge kind"};
        case TemplateKind::gauge:
            return {"gauges", "gauge"};
        case TemplateKind::plan:
            return {"plans", "plan"};
        case TemplateKind::limits:
            return {"limits", "limits file"};
        case TemplateKind::bench:
            return {"benches", "bench"};
        case TemplateKind::profile:
            return {"instruments", "instrument profile"};
        case TemplateKind::lanes:
            return {"lanes", "list of lanes"};
    }
    return {"", ""};
}

Result<DescriptionText> read_description(const fs::path& path, const std::string& name) {
    Result<std::string> text = read_file(path, description_bytes_max);
    if (text) return DescriptionText{name, std::move(*text)};
    text.fault().where = name;
    return text.fault();
}

std::string rounded(double value, int decimals) {
    const double scale = std::pow(10.0, decimals);
    return shortest(std::round(value * scale) / scale);
}

bool is_template_name(const std::string& name) {
    return !name.empty() && name.size() <= 100 && name.front() != '.' &&
           std::all_of(name.begin(), name.end(), [](char c) {
               return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                      c == '-' || c == '_' || c == '.';
           });
}

std::vector<std::string> names_in(const fs::path& folder) {
    std::vector<std::string> names;
    std::error_code error;
    for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error))
        // What was found of a bench lies beside it, and is none.
        if (std::string name = it->path().stem().string();
            it->path().extension() == ".toml" && !name.ends_with(checks_ending))
            names.push_back(std::move(name));
    std::sort(names.begin(), names.end());
    return names;
}

std::string with_article(const std::string& words) {
    return (std::string_view("aeiou").find(words.front()) != std::string_view::npos ? "an " : "a ") + words;
}

// A file first; then, for each kind of template, the name.
Result<DescriptionText> find(const std::string& file_or_name, const fs::path& beside,
                             const fs::path& templates, std::initializer_list<TemplateKind> kinds) {
    std::error_code error;
    const fs::path file = beside / file_or_name;
    if (!file_or_name.empty() && fs::is_regular_file(file, error))
        return read_description(file, file.string());
    std::vector<std::string> known;
    std::string what;
    for (const TemplateKind kind : kinds) {
        const Folder folder = folder_of(kind);
        const fs::path path = templates / folder.name / (file_or_name + ".toml");
        if (is_template_name(file_or_name) && fs::is_regular_file(path, error))
            return read_description(path, std::string(folder.name) + "/" + file_or_name + ".toml");
        for (std::string& name : names_in(templates / folder.name)) known.push_back(std::move(name));
        add_part(what, folder.what, " or ");
    }
    std::string remedy = "no templates were found in the templates folder";
    if (!known.empty()) {
        remedy = "give a file, or one of: " + joined(known, ", ");
        const std::string meant = nearest(file_or_name, known);
        if (!meant.empty()) remedy = "did you mean " + meant + "? Otherwise " + remedy;
    }
    return Fault{FaultCode::file_missing,
                 in_quotes(file_or_name) + " is neither a file nor the name of " + with_article(what), "",
                 remedy};
}

}  // namespace

Result<DescriptionText> find_template(TemplateKind kind, const std::string& file_or_name,
                                      const fs::path& templates) {
    return find(file_or_name, "", templates, {kind});
}

Result<GaugeDescription> load_gauge(const std::string& file_or_name, const fs::path& templates) {
    const Result<DescriptionText> text =
        find(file_or_name, "", templates, {TemplateKind::gauge, TemplateKind::gauge_kind});
    if (!text) return text.fault();
    const Result<std::string> kind = kind_named_by(*text);
    if (!kind) return kind.fault();
    if (kind->empty()) return parse_gauge({}, *text);
    // A kind given as a file lies beside the gauge's file.
    std::error_code error;
    const fs::path beside = fs::is_regular_file(text->name, error) ? fs::path(text->name).parent_path()
                                                                   : fs::path(templates / "gauges");
    Result<DescriptionText> kind_text = find(*kind, beside, templates, {TemplateKind::gauge_kind});
    if (!kind_text) {
        kind_text.fault().where = text->name;
        return kind_text.fault();
    }
    return parse_gauge(*text, *kind_text);
}

Result<BenchDescription> load_bench(const std::string& file_or_name, const fs::path& templates) {
    const Result<DescriptionText> text = find_template(TemplateKind::bench, file_or_name, templates);
    if (!text) return text.fault();
    const Result<std::string> named = capability_named_by(*text);
    if (!named) return named.fault();
    if (named->empty()) return parse_bench(*text);
    std::error_code error;
    const fs::path file = (fs::is_regular_file(text->name, error) ? fs::path(text->name).parent_path()
                                                                  : templates / "benches") /
                          *named;
    Result<DescriptionText> capability = read_description(file, file.string());
    if (!capability) {
        capability.fault().what = "capability names " + in_quotes(*named) + ": " + capability.fault().what;
        capability.fault().where = text->name;
        return capability.fault();
    }
    // Read by itself first, so that a fault in it names its own file and line.
    if (const Outcome read = check_capability_file(*capability); !read) return read.fault();
    return parse_bench(with_part_inside(*text, "capability", *capability));
}

Result<calib::Limits> load_limits(const std::string& file_or_name, const fs::path& templates) {
    const Result<DescriptionText> text = find_template(TemplateKind::limits, file_or_name, templates);
    if (!text) return text.fault();
    return parse_limits(*text);
}

Result<PlanDescription> load_plan(const std::string& file_or_name, const fs::path& templates) {
    const Result<DescriptionText> text = find_template(TemplateKind::plan, file_or_name, templates);
    if (!text) return text.fault();
    const Result<std::string> named = limits_named_by(*text);
    if (!named) return named.fault();
    if (named->empty()) return parse_plan(*text);
    std::error_code error;
    const fs::path beside = fs::is_regular_file(text->name, error) ? fs::path(text->name).parent_path()
                                                                   : fs::path(templates / "plans");
    Result<DescriptionText> limits = find(*named, beside, templates, {TemplateKind::limits});
    if (!limits) {
        limits.fault().where = text->name;
        return limits.fault();
    }
    // Read by itself first, so that a fault in it names its own file and line.
    if (const Result<calib::Limits> read = parse_limits(*limits); !read) return read.fault();
    return parse_plan(with_part_inside(*text, "limits", *limits));
}

Outcome check_together(const GaugeDescription& gauge, const PlanDescription& plan,
                       const BenchDescription& bench) {
    const auto& agreed = bench.facts.agreed_rule;
    if (agreed && !plan.plan.limits.rows.empty() && plan.plan.rule != agreed->rule)
        return Fault{
            FaultCode::inconsistent,
            "the plan judges by another decision rule than the one agreed with the customer, which " +
                bench.text.name + " states",
            plan.text.name, "put the agreed rule into the plan's [decision], or correct the bench's"};
    const double area_cm2 = gauge.gauge.catch_area_cm2().value;
    const double tip_g = gauge.gauge.nominal_tip_mL();
    for (std::size_t i = 0; i < plan.plan.steps.size(); ++i) {
        const calib::PlanStep& step = plan.plan.steps[i];
        const std::string where = plan.text.name + ", step " + std::to_string(i + 1);
        const double flow = calib::flow_mL_min(step.intensity_mm_h, area_cm2);
        if (!(flow <= bench.max_flow_mL_min))
            return Fault{FaultCode::bad_value,
                         shortest(step.intensity_mm_h) + " mm/h on this gauge is " + rounded(flow, 1) +
                             " mL/min, the bench delivers at most " + shortest(bench.max_flow_mL_min),
                         where, "leave the step out, or use a larger pump tube"};
        // Before the first tip that counts and after the last water runs too, and a tip may hold more than
        // its nominal volume.
        constexpr double with_what_runs_beside = 1.5;
        if (const double needed_g = step.min_tips * tip_g * with_what_runs_beside;
            !(needed_g <= bench.vessel_capacity_g)) {
            const int pairs = static_cast<int>(bench.vessel_capacity_g / (2 * tip_g * with_what_runs_beside));
            return Fault{FaultCode::bad_value,
                         std::to_string(step.min_tips) + " tips of this gauge, with half as much again for " +
                             "what runs beside them, are " + rounded(needed_g, 0) + " mL, the vessel holds " +
                             shortest(bench.vessel_capacity_g) + " g",
                         where,
                         "ask for at most " + std::to_string(2 * pairs) + " tips, or use a larger vessel"};
        }
        const double interval_s = 3600 * gauge.gauge.nominal_tip_mm / step.intensity_mm_h;
        if (!(step.min_tips * interval_s <= step.time_limit_s))
            return Fault{FaultCode::inconsistent,
                         std::to_string(step.min_tips) + " tips at " + shortest(step.intensity_mm_h) +
                             " mm/h need " + rounded(step.min_tips * interval_s, 0) +
                             " s, the step's time limit is " + shortest(step.time_limit_s) + " s",
                         where, "raise time_limit_s, or ask for fewer tips"};
    }
    return Done{};
}

Result<std::vector<TemplateEntry>> list_templates(TemplateKind kind, const fs::path& templates,
                                                  const TitleOf& title_of) {
    const fs::path folder = templates / folder_of(kind).name;
    std::error_code error;
    if (!fs::is_directory(folder, error))
        return Fault{FaultCode::file_missing, "there is no such folder", folder.string(),
                     "give the folder of the templates"};
    std::vector<TemplateEntry> out;
    for (std::string& name : names_in(folder)) {
        // By its path: a file of that name in the folder one works in is another thing.
        const Result<std::string> title = title_of((folder / (name + ".toml")).string());
        out.push_back(
            {std::move(name), title ? *title : "", title ? std::nullopt : std::optional(title.fault())});
    }
    return out;
}

}  // namespace tipwright::bench
