#include "bench/run/run_log.hpp"

#include <array>
#include <charconv>

namespace tipwright::bench {

std::string number_text(double value) {
    std::array<char, 32> buffer{};
    const auto end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
    return {buffer.data(), end.ptr};
}

void RunLog::append(double time_s, std::string_view kind,
                    std::vector<std::pair<std::string, std::string>> fields) {
    auto outcome = sink_.append(time_s, kind, std::move(fields));
    if (!outcome && !failure_) failure_ = outcome.fault();
}

void RunLog::sync() {
    auto outcome = sink_.sync();
    if (!outcome && !failure_) failure_ = outcome.fault();
}

void RunLog::open(double time_s, const std::string& program_version, const std::string& started_at,
                  const std::string& seed) {
    append(time_s, "open", {{"program", program_version}, {"started_at", started_at}, {"seed", seed}});
}

void RunLog::given(double time_s, const std::string& name, const std::string& file, const std::string& text) {
    std::size_t start = 0;
    int line = 0;
    while (start < text.size()) {
        std::size_t end = text.find('\n', start);
        if (end == std::string::npos) end = text.size();
        ++line;
        append(time_s, "given",
               {{"what", name},
                {"file", file},
                {"line", std::to_string(line)},
                {"text", text.substr(start, end - start)}});
        start = end + 1;
    }
}

void RunLog::state(double time_s, RunState from, RunState to, int step, double intensity_mm_h) {
    append(time_s, "state",
           {{"from", std::string(name_of(from))},
            {"to", std::string(name_of(to))},
            {"step", std::to_string(step)},
            {"intensity_mm_h", number_text(intensity_mm_h)}});
    sync();
}

void RunLog::pump(double time_s, double flow_mL_min) {
    append(time_s, "pump", {{"flow_mL_min", number_text(flow_mL_min)}});
}

void RunLog::drain(double time_s, bool open) {
    append(time_s, "drain", {{"open", open ? "1" : "0"}});
}

void RunLog::weight(const WeightReading& reading) {
    append(reading.arrived_s, "weight",
           {{"mass_g", number_text(reading.mass_g)},
            {"stable", reading.stable ? "1" : "0"},
            {"text", reading.text}});
}

void RunLog::edge(double time_s, const ContactEdge& edge) {
    append(time_s, "edge",
           {{"contact", std::to_string(edge.contact)},
            {"closed", edge.closed ? "1" : "0"},
            {"at_s", number_text(edge.time_s)},
            {"device_us", std::to_string(edge.device_us)},
            {"number", std::to_string(edge.sequence)}});
}

void RunLog::climate(const ClimateReading& reading) {
    append(reading.arrived_s, "climate",
           {{"water_C", number_text(reading.water_temperature_C)},
            {"air_C", number_text(reading.air_temperature_C)},
            {"pressure_hPa", number_text(reading.air_pressure_hPa)},
            {"humidity_percent", number_text(reading.relative_humidity_percent)}});
}

void RunLog::trim(double time_s, double scale, double relative_u) {
    append(time_s, "trim", {{"scale", number_text(scale)}, {"relative_u", number_text(relative_u)}});
}

void RunLog::collect_opened(double time_s, int step, std::size_t tip) {
    append(time_s, "collect",
           {{"did", "open"}, {"step", std::to_string(step)}, {"tip", std::to_string(tip)}});
}

void RunLog::collect_closed(double time_s, int step, std::size_t tip, std::string_view end) {
    append(time_s, "collect",
           {{"did", "close"},
            {"step", std::to_string(step)},
            {"tip", std::to_string(tip)},
            {"end", std::string(end)}});
    sync();
}

void RunLog::collect_dropped(double time_s, int step, const std::string& reason) {
    append(time_s, "collect", {{"did", "drop"}, {"step", std::to_string(step)}, {"reason", reason}});
}

void RunLog::remark(double time_s, const std::string& text) {
    append(time_s, "remark", {{"text", text}});
}

void RunLog::fault(double time_s, const Fault& fault) {
    append(time_s, "fault",
           {{"code", std::string(tipwright::name_of(fault.code))},
            {"what", fault.what},
            {"where", fault.where},
            {"remedy", fault.remedy}});
    sync();
}

void RunLog::close(double time_s, const std::string& ended_at, bool complete, const std::string& reason) {
    append(time_s, "close", {{"ended_at", ended_at}, {"complete", complete ? "1" : "0"}, {"reason", reason}});
    sync();
}

}  // namespace tipwright::bench
