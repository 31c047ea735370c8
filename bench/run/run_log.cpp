#include "bench/run/run_log.hpp"

namespace tipwright::bench {

void RunLog::append(double time_s, std::string_view kind, std::initializer_list<JournalField> fields) {
    auto outcome = journal_.append(time_s, kind, fields);
    if (!outcome && !failure_) failure_ = outcome.fault();
}

void RunLog::sync() {
    auto outcome = journal_.sync();
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
               {{"what", name}, {"file", file}, {"line", line}, {"text", text.substr(start, end - start)}});
        start = end + 1;
    }
}

void RunLog::go_on(double time_s, const std::string& continued_at, int from_step, std::uint64_t torn_bytes) {
    append(time_s, "continue",
           {{"continued_at", continued_at}, {"from_step", from_step}, {"torn_bytes", torn_bytes}});
    sync();
}

void RunLog::state(double time_s, RunState from, RunState to, int step, double intensity_mm_h) {
    append(
        time_s, "state",
        {{"from", name_of(from)}, {"to", name_of(to)}, {"step", step}, {"intensity_mm_h", intensity_mm_h}});
    sync();
}

void RunLog::pump(double time_s, double flow_mL_min) {
    append(time_s, "pump", {{"flow_mL_min", flow_mL_min}});
}

void RunLog::drain(double time_s, bool open) {
    append(time_s, "drain", {{"open", open}});
}

void RunLog::weight(const WeightReading& reading) {
    append(reading.arrived_s, "weight",
           {{"mass_g", reading.mass_g}, {"stable", reading.stable}, {"text", reading.text}});
}

void RunLog::edge(double time_s, const ContactEdge& edge) {
    append(time_s, "edge",
           {{"contact", edge.contact},
            {"closed", edge.closed},
            {"at_s", edge.time_s},
            {"device_us", edge.device_us},
            {"number", edge.sequence}});
}

void RunLog::climate(const ClimateReading& reading) {
    append(reading.arrived_s, "climate",
           {{"water_C", reading.water_temperature_C},
            {"air_C", reading.air_temperature_C},
            {"pressure_hPa", reading.air_pressure_hPa},
            {"humidity_percent", reading.relative_humidity_percent}});
}

void RunLog::trim(double time_s, double scale, double relative_u) {
    append(time_s, "trim", {{"scale", scale}, {"relative_u", relative_u}});
}

void RunLog::timing(double time_s, double edge_time_u_s) {
    append(time_s, "timing", {{"edge_time_u_s", edge_time_u_s}});
}

void RunLog::collect_opened(double time_s, int step, int repeat, std::size_t tip) {
    append(time_s, "collect", {{"did", "open"}, {"step", step}, {"repeat", repeat}, {"tip", tip}});
}

void RunLog::collect_closed(double time_s, int step, int repeat, std::size_t tip, std::string_view end) {
    append(time_s, "collect",
           {{"did", "close"}, {"step", step}, {"repeat", repeat}, {"tip", tip}, {"end", end}});
    sync();
}

void RunLog::collect_dropped(double time_s, int step, const std::string& reason) {
    append(time_s, "collect", {{"did", "drop"}, {"step", step}, {"reason", reason}});
}

void RunLog::remark(double time_s, const std::string& text) {
    append(time_s, "remark", {{"text", text}});
}

void RunLog::accepted(double time_s, const Concession& concession) {
    const bool overdue = concession.nonconformity == Nonconformity::calibration_overdue;
    if (overdue) {
        append(time_s, "accepted",
               {{"role", concession.role},
                {"serial", concession.serial},
                {"nonconformity", "calibration_overdue"},
                {"since", concession.since},
                {"reason", concession.reason}});
    } else {
        append(time_s, "accepted",
               {{"role", concession.role},
                {"serial", concession.serial},
                {"nonconformity", "check_failed"},
                {"since", concession.since},
                {"error_g", concession.error_g.value_or(0)},
                {"mass_g", concession.mass_g.value_or(0)},
                {"reason", concession.reason}});
    }
}

void RunLog::fault(double time_s, const Fault& fault) {
    append(time_s, "fault",
           {{"code", tipwright::name_of(fault.code)},
            {"what", fault.what},
            {"where", fault.where},
            {"remedy", fault.remedy}});
    sync();
}

void RunLog::close(double time_s, const std::string& ended_at, bool complete, const std::string& reason) {
    append(time_s, "close", {{"ended_at", ended_at}, {"complete", complete}, {"reason", reason}});
    sync();
}

}  // namespace tipwright::bench
