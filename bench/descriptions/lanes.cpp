#include "bench/descriptions/lanes.hpp"

#include <algorithm>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/toml_reader.hpp"

namespace tipwright::bench {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t longest_name = 20;

bool is_name(const std::string& name) {
    return !name.empty() && name.size() <= longest_name && std::all_of(name.begin(), name.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
               c == '_';
    });
}

LaneDescription read_lane(TomlTable table) {
    LaneDescription lane;
    lane.name = table.text("name");
    if (!lane.name.empty() && !is_name(lane.name)) {
        table.fault(FaultCode::bad_value, "name",
                    "name is " + in_quotes(lane.name) + ", which cannot name a folder",
                    "use up to 20 letters, digits, - and _");
    }
    lane.bench = table.text("bench");
    lane.gauge = table.text("gauge");
    lane.plan = table.text("plan");
    lane.as_left = table.flag("as_left", false);
    lane.seed = static_cast<std::uint64_t>(table.whole_number("seed", 0, 1000000000, 1));
    table.finish();
    return lane;
}

}  // namespace

Result<LanesDescription> parse_lanes(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    LanesDescription out;
    out.title = root.text("title");
    const std::vector<TomlTable> tables = root.tables("lane");
    for (const TomlTable& table : tables) {
        out.lanes.push_back(read_lane(table));
        const std::string& name = out.lanes.back().name;
        const auto same = std::count_if(out.lanes.begin(), out.lanes.end(),
                                        [&](const LaneDescription& lane) { return lane.name == name; });
        if (!name.empty() && same > 1) {
            faults.add(FaultCode::duplicate, table.at("name"), "a second lane is called " + in_quotes(name),
                       "give each lane a name of its own");
        }
    }
    if (tables.empty())
        root.fault(FaultCode::missing_field, "lane", "no lane is given",
                   "add [[lane]] with name, bench, gauge, plan");
    if (tables.size() > lanes_max) {
        faults.add(FaultCode::bad_value, tables[lanes_max].at(),
                   std::to_string(tables.size()) + " lanes are more than " + std::to_string(lanes_max),
                   "start the others with a second program");
    }
    root.finish();
    if (!faults.empty()) return faults.first();
    return out;
}

Result<LanesDescription> load_lanes(const std::string& file_or_name, const fs::path& templates) {
    const auto text = find_template(TemplateKind::lanes, file_or_name, templates);
    if (!text) return text.fault();
    auto lanes = parse_lanes(*text);
    if (!lanes) return lanes.fault();
    const auto beside = [&](std::string& name) {
        std::error_code ignored;
        const fs::path found = fs::path(text->name).parent_path() / name;
        if (!fs::path(name).is_absolute() && fs::exists(found, ignored)) name = found.string();
    };
    for (LaneDescription& lane : lanes->lanes) {
        beside(lane.bench);
        beside(lane.gauge);
        beside(lane.plan);
    }
    return lanes;
}

}  // namespace tipwright::bench
