#include <algorithm>
#include <array>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/lanes.hpp"
#include "bench/instruments/profile.hpp"
#include "bench/program/command.hpp"
#include "bench/program/list.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

// What load answers, as the title shown for it.
template <class Loaded, class Title>
Result<std::string> titled(const Result<Loaded>& loaded, const Title& title) {
    if (!loaded) return loaded.fault();
    return title(*loaded);
}

Result<std::string> gauge_title(const std::string& file, const fs::path& templates) {
    return titled(bench::load_gauge(file, templates), [](const bench::GaugeDescription& gauge) {
        return gauge.serial.empty() ? gauge.kind_title : gauge.model + ", " + gauge.serial;
    });
}
Result<std::string> plan_title(const std::string& file, const fs::path& templates) {
    return titled(bench::load_plan(file, templates), [](const auto& plan) { return plan.plan.name; });
}
Result<std::string> limits_title(const std::string& file, const fs::path& templates) {
    return titled(bench::load_limits(file, templates), [](const auto& limits) { return limits.name; });
}
Result<std::string> bench_title(const std::string& file, const fs::path& templates) {
    return titled(bench::load_bench(file, templates), [](const auto& bench) { return bench.title; });
}
Result<std::string> profile_title(const std::string& file, const fs::path& templates) {
    return titled(bench::load_profile(file, templates), [](const auto& profile) { return profile.title; });
}
Result<std::string> lanes_title(const std::string& file, const fs::path& templates) {
    return titled(bench::load_lanes(file, templates), [](const auto& lanes) { return lanes.title; });
}

struct Section {
    bench::TemplateKind kind;
    const char* heading;
    const char* key;
    Result<std::string> (*title)(const std::string& file, const fs::path& templates);
};

constexpr std::array sections = {
    Section{bench::TemplateKind::gauge_kind, "Gauge kinds (--gauge, on a virtual bench)", "gauge_kinds",
            gauge_title},
    Section{bench::TemplateKind::gauge, "Gauges (--gauge)", "gauges", gauge_title},
    Section{bench::TemplateKind::plan, "Plans (--plan)", "plans", plan_title},
    Section{bench::TemplateKind::limits, "Limits (named in plans)", "limits", limits_title},
    Section{bench::TemplateKind::bench, "Benches (--bench)", "benches", bench_title},
    Section{bench::TemplateKind::profile, "Instrument profiles (named in benches)", "profiles",
            profile_title},
    Section{bench::TemplateKind::lanes, "Lists of lanes (lanes)", "lanes", lanes_title},
};

ExitCode list(const CommonOptions& common) {
    nlohmann::ordered_json document = nlohmann::ordered_json::object();
    for (const auto& section : sections) {
        const auto entries = bench::list_templates(
            section.kind, common.templates,
            [&](const std::string& file) { return section.title(file, common.templates); });
        if (!entries) return fail(common, entries.fault());
        auto& rows = document[section.key] = nlohmann::ordered_json::array();
        std::size_t width = 0;
        for (const auto& entry : *entries) width = std::max(width, entry.name.size());
        if (!common.json) print_to(stdout, "%s\n", section.heading);
        for (const auto& entry : *entries) {
            nlohmann::ordered_json row = {{"name", entry.name}, {"title", entry.title}};
            if (entry.fault) row["fault"] = entry.fault->line();
            rows.push_back(row);
            if (common.json) continue;
            const std::string text = entry.fault ? "cannot be used: " + entry.fault->line() : entry.title;
            print_to(stdout, "  %-*s  %s\n", static_cast<int>(width), entry.name.c_str(), text.c_str());
        }
        if (!common.json) print_to(stdout, "\n");
    }
    if (common.json) {
        print_json(document);
    }
    return ExitCode::done;
}

}  // namespace

void add_list(CommandLine& line) {
    auto command =
        line.app.add_subcommand("list", "List gauge kinds, gauges, plans, benches, profiles, limits");
    command.on_chosen([&line] { line.chosen = [&line] { return list(line.common); }; });
}

}  // namespace tipwright::program
