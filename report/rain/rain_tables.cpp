// Rain as CSV, JSON and lines for a terminal.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <nlohmann/json.hpp>

#include "calib/base/dates.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/files/inert_text.hpp"
#include "report/rain/rain_report.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report {

namespace {

constexpr std::size_t events_kept = 12;

void two(std::string& out, int value) {
    out.push_back(static_cast<char>('0' + value / 10 % 10));
    out.push_back(static_cast<char>('0' + value % 10));
}

void append_moment(std::string& out, double time_s, double offset_s) {
    // Most rows share the day of the one before.
    static thread_local std::int64_t kept_day = std::numeric_limits<std::int64_t>::min();
    static thread_local std::string kept;
    const auto local = static_cast<std::int64_t>(std::floor(time_s + offset_s + 0.5));
    const std::int64_t day = (local >= 0 ? local : local - 86399) / 86400;
    if (day != kept_day) {
        kept = iso_text(std::chrono::sys_days(std::chrono::days(day))) + "T";
        kept_day = day;
    }
    const int second = static_cast<int>(local - day * 86400);
    char clock[8] = {'0', '0', ':', '0', '0', ':', '0', '0'};
    const auto put = [&](int place, int number) {
        clock[place] = static_cast<char>('0' + number / 10);
        clock[place + 1] = static_cast<char>('0' + number % 10);
    };
    put(0, second / 3600);
    put(3, second / 60 % 60);
    put(6, second % 60);
    out += kept;
    out.append(clock, sizeof clock);
    if (offset_s == 0) {
        out.push_back('Z');
        return;
    }
    const int minutes = static_cast<int>(std::lround(std::abs(offset_s) / 60));
    out.push_back(offset_s < 0 ? '-' : '+');
    two(out, minutes / 60);
    out.push_back(':');
    two(out, minutes % 60);
}

// Four decimals, rounded half up; a value of the order of millimetres.
void append_fixed4(std::string& out, double value) {
    char text[32];
    char* const end = text + sizeof text;
    char* at = end;
    auto scaled = static_cast<std::uint64_t>(std::floor(std::abs(value) * 1e4 + 0.5));
    const bool negative = value < 0 && scaled != 0;
    for (int digit = 0; digit < 5 || scaled > 0; ++digit) {
        if (digit == 4) *--at = '.';
        *--at = static_cast<char>('0' + scaled % 10);
        scaled /= 10;
    }
    if (negative) *--at = '-';
    out.append(at, end);
}

nlohmann::ordered_json amount_json(const calib::RainAmount& amount, double offset_s) {
    nlohmann::ordered_json out = {{"from", rain_moment(amount.from_s, offset_s)},
                                  {"until", rain_moment(amount.until_s, offset_s)},
                                  {"tips", amount.tips},
                                  {"uncorrected_mm", amount.uncorrected_mm},
                                  {"corrected_mm", amount.corrected_mm},
                                  {"U_mm", amount.U_mm},
                                  {"k", amount.k},
                                  {"u_common_mm", amount.u_common_mm},
                                  {"u_tips_mm", amount.u_tips_mm},
                                  {"u_filling_mm", amount.u_filling_mm},
                                  {"highest_mm_h", amount.highest_mm_h},
                                  {"highest_U_mm_h", amount.highest_U_mm_h}};
    if (const int minutes = minutes_of(amount.period)) {
        out["minutes"] = minutes;
        out.erase("highest_mm_h");
        out.erase("highest_U_mm_h");
    }
    if (amount.missing_s > 0) out["missing_s"] = amount.missing_s;
    if (amount.beyond_tips > 0) out["tips_beyond_calibration"] = amount.beyond_tips;
    return out;
}

}  // namespace

std::string rain_moment(double time_s, double utc_offset_s) {
    std::string out;
    append_moment(out, time_s, utc_offset_s);
    return out;
}

std::string rain_csv_head(const RainReport& report, bool minutes) {
    std::string out = "# tipwright rain; gauge " + inert_line(visible(report.gauge)) + "; log " +
                      inert_line(visible(report.log)) + "\n";
    for (const RainCertificate& one : report.certificates)
        out += "# certificate " + inert_line(visible(one.number)) + " of " + visible(one.calibrated_on) +
               (one.state == State::as_left ? " as left" : " as found") + "\n";
    out += "# U: expanded uncertainty, coverage probability " +
           significant(100 * report.settings.coverage, 6) + " %\n";
    if (minutes) return out + "time,uncorrected_mm_h,corrected_mm_h,U_mm_h\n";
    return out +
           "period,from,until,tips,uncorrected_mm,corrected_mm,U_mm,u_common_mm,u_tips_mm,u_filling_mm,"
           "highest_mm_h,"
           "highest_U_mm_h,missing_s\n";
}

void append_amount(std::string& out, const calib::RainAmount& amount, double utc_offset_s) {
    out += calib::rain_period_names[static_cast<std::size_t>(amount.period)];
    out.push_back(',');
    append_moment(out, amount.from_s, utc_offset_s);
    out.push_back(',');
    append_moment(out, amount.until_s, utc_offset_s);
    for (const double value :
         {amount.tips, amount.uncorrected_mm, amount.corrected_mm, amount.U_mm, amount.u_common_mm,
          amount.u_tips_mm, amount.u_filling_mm, amount.highest_mm_h, amount.highest_U_mm_h}) {
        out.push_back(',');
        append_fixed4(out, value);
    }
    out += "," + std::to_string(static_cast<std::int64_t>(amount.missing_s)) + "\n";
}

void append_minute(std::string& out, const calib::RainAmount& amount, double utc_offset_s, double per_hour) {
    append_moment(out, amount.from_s, utc_offset_s);
    for (const double value : {amount.uncorrected_mm, amount.corrected_mm, amount.U_mm}) {
        out.push_back(',');
        append_fixed4(out, value * per_hour);
    }
    out.push_back('\n');
}

std::string zone_of_days(const RainReport& report) {
    const std::string zone = rain_moment(0, report.settings.utc_offset_s).substr(19);
    return zone == "Z" ? "+00:00" : zone;
}

std::string rain_row_json(const calib::RainAmount& amount, double utc_offset_s) {
    // As a document of its own is laid out, two levels in.
    std::string out = "\n  ";
    for (const char c : amount_json(amount, utc_offset_s).dump(1)) {
        out.push_back(c);
        if (c == '\n') out += "  ";
    }
    return out;
}

void write_rain_json(const RainReport& report, const std::function<void(std::string_view)>& append,
                     const std::function<void()>& append_events) {
    const double offset_s = report.settings.utc_offset_s;
    nlohmann::ordered_json out = {{"format", "tipwright rain"}, {"version", "1.0"}};
    out["gauge"] = valid_utf8(report.gauge);
    out["serial"] = valid_utf8(report.serial);
    out["log"] = {{"name", valid_utf8(report.log)}, {"sha256", report.log_sha256}};
    if (!report.zone.empty())
        out["zone"] = {{"times", valid_utf8(report.zone)}, {"days", zone_of_days(report)}};
    auto& certificates = out["certificates"] = nlohmann::ordered_json::array();
    for (const RainCertificate& one : report.certificates)
        certificates.push_back({{"number", valid_utf8(one.number)},
                                {"calibrated_on", valid_utf8(one.calibrated_on)},
                                {"state", one.state == State::as_left ? "as_left" : "as_found"},
                                {"from", one.from},
                                {"reservations", one.reservations}});
    if (report.drift_known)
        out["drift"] =
            report.settings.drift == calib::DriftAs::interpolation ? "interpolated" : "uncertainty";
    if (report.total.from_s < report.first_calibrated_s)
        out["before_first_calibration"] = {
            {"calibrated_at", rain_moment(report.first_calibrated_s, offset_s)}};
    if (!report.drift_unseen.empty()) {
        auto& unseen = out["drift_unseen"] = nlohmann::ordered_json::array();
        for (const auto& [from, to] : report.drift_unseen) unseen.push_back({{"from", from}, {"to", to}});
    }
    if (report.total.until_s > report.last_calibrated_s)
        out["since_last_calibration"] = {{"calibrated_at", rain_moment(report.last_calibrated_s, offset_s)},
                                         {"drift_percent_per_year", 100 * report.settings.drift_per_year}};
    out["coverage_percent"] = 100 * report.settings.coverage;
    if (report.settings.count_interval_s > 0)
        out["counts"] = {{"interval_s", report.settings.count_interval_s}};
    const calib::RainSigns& signs = report.signs;
    out["signs"] = {{"tips", signs.tips},
                    {"bounces_left_out", signs.bounces},
                    {"duplicates_left_out", signs.duplicates},
                    {"clock_set_back", signs.clock_set_back},
                    {"clock_set_back_largest_s", signs.clock_back_s},
                    {"gaps", signs.gaps},
                    {"missing_s", signs.missing_s},
                    {"tips_of_one_contact_only", signs.one_contact},
                    {"tips_too_fast", signs.too_fast},
                    {"tips_beyond_calibration", signs.beyond},
                    {"lone_tips", signs.lone_tips},
                    {"flat_tails", signs.flat_tails},
                    {"longest_silence_s", signs.longest_silence_s}};
    out["total"] = amount_json(report.total, offset_s);
    std::string before = out.dump(1);
    before.resize(before.size() - std::string_view("\n}").size());
    append(before);
    const auto list = [&](const std::string& name, const std::vector<calib::RainAmount>& amounts) {
        append(",\n \"" + name + "\": [");
        for (const auto& amount : amounts) {
            if (&amount != &amounts.front()) append(",");
            append(rain_row_json(amount, offset_s));
        }
        append(amounts.empty() ? "]" : "\n ]");
    };
    list("years", report.years);
    list("months", report.months);
    list("days", report.days);
    list("largest", report.largest);
    append(",\n \"events\": [");
    append_events();
    append("\n ]\n}\n");
}

int minutes_of(calib::RainPeriod period) {
    if (period == calib::RainPeriod::largest_1) return 1;
    if (period == calib::RainPeriod::largest_5) return 5;
    return period == calib::RainPeriod::largest_60 ? 60 : 0;
}

std::vector<calib::RainAmount> largest_of_all(const RainReport& report) {
    std::vector<calib::RainAmount> out;
    for (const auto period :
         {calib::RainPeriod::largest_1, calib::RainPeriod::largest_5, calib::RainPeriod::largest_60}) {
        const calib::RainAmount* most = nullptr;
        for (const auto& one : report.largest)
            if (one.period == period && (most == nullptr || one.corrected_mm > most->corrected_mm))
                most = &one;
        if (most != nullptr) out.push_back(*most);
    }
    return out;
}

void keep_largest(std::vector<calib::RainAmount>& events, const calib::RainAmount& event) {
    const auto place =
        std::upper_bound(events.begin(), events.end(), event,
                         [](const auto& a, const auto& b) { return a.corrected_mm > b.corrected_mm; });
    if (place == events.end() && events.size() == events_kept) return;
    events.insert(place, event);
    if (events.size() > events_kept) events.pop_back();
}

bool is_part(const calib::RainAmount& amount) {
    return amount.missing_s >= 3600;
}

std::string rain_text(const RainReport& report) {
    const double offset_s = report.settings.utc_offset_s;
    std::string out = visible(report.gauge) + "\n";
    if (!report.zone.empty())
        out += "times by the clocks of " + visible(report.zone) + "; days and months by UTC " +
               zone_of_days(report) + ", its winter time\n";
    const auto row = [&](const std::string& name, const calib::RainAmount& amount) {
        const auto pair = calib::round_with_uncertainty(amount.corrected_mm, amount.U_mm);
        char text[160];
        std::snprintf(text, sizeof text, "%-8s %s  %9.1f mm logged  %10s mm ± %s mm\n", name.c_str(),
                      rain_moment(amount.from_s, offset_s).substr(0, 10).c_str(), amount.uncorrected_mm,
                      pair.value.c_str(), pair.uncertainty.c_str());
        out += text;
        if (amount.period != calib::RainPeriod::total && is_part(amount)) {
            out.pop_back();
            out += "; " + calib::fixed(amount.missing_s / 86400, 1) + " d of it without data\n";
        }
    };
    if (report.months.size() <= 24)
        for (const auto& month : report.months) row("month", month);
    for (const auto& year : report.years) row("year", year);
    row("total", report.total);
    for (const auto& one : largest_of_all(report)) {
        const auto pair = calib::round_with_uncertainty(one.corrected_mm, one.U_mm);
        char text[160];
        std::snprintf(text, sizeof text, "most in %2d min from %s  %10s mm ± %s mm\n", minutes_of(one.period),
                      rain_moment(one.from_s, offset_s).c_str(), pair.value.c_str(),
                      pair.uncertainty.c_str());
        out += text;
    }
    return out;
}

}  // namespace tipwright::report
