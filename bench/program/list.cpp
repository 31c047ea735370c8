#include <algorithm>
#include <array>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/commands.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

namespace {

struct Section {
    bench::TemplateKind kind;
    const char* heading;
    const char* key;
};

constexpr std::array sections = {
    Section{bench::TemplateKind::gauge_kind, "Gauge kinds (--gauge, on a virtual bench)", "gauge_kinds"},
    Section{bench::TemplateKind::gauge, "Gauges (--gauge)", "gauges"},
    Section{bench::TemplateKind::plan, "Plans (--plan)", "plans"},
    Section{bench::TemplateKind::limits, "Limits (named in plans)", "limits"},
    Section{bench::TemplateKind::bench, "Benches (--bench)", "benches"},
    Section{bench::TemplateKind::profile, "Instrument profiles (named in benches)", "profiles"},
};

}  // namespace

ExitCode list(const CommonOptions& common) {
    nlohmann::ordered_json document = nlohmann::ordered_json::object();
    for (const auto& section : sections) {
        const auto entries = bench::list_templates(section.kind, common.templates);
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

}  // namespace tipwright::program
