#include "bench/descriptions/logger.hpp"

#include "bench/descriptions/toml_reader.hpp"
#include "report/files/files.hpp"

namespace tipwright::bench {

Result<LoggerDescription> parse_logger(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    LoggerDescription out;
    out.format.time_column = root.text_or("time", "");
    out.format.contact_column = root.text_or("contact", "");
    out.format.count_column = root.text_or("count", "");
    out.format.second_column = root.text_or("second", "");
    if (root.has("interval_s")) out.format.interval_s = root.number("interval_s", {1, 86400, "s"});
    out.format.names_start = root.flag("start", false);
    out.format.order = static_cast<calib::DateOrder>(root.choice("dates", {"auto", "dmy", "mdy"}, 0));
    out.zone = root.text_or("zone", "");
    if (root.has("bounce_s")) out.bounce_s = root.number("bounce_s", {0.001, 10, "s"});
    root.finish();
    if (!faults.empty()) return faults.first();
    return out;
}

Result<LoggerDescription> load_logger(const std::filesystem::path& file) {
    auto text = read_file(file);
    if (!text) return text.fault();
    return parse_logger({file.string(), std::move(*text)});
}

}  // namespace tipwright::bench
