#include "bench/descriptions/site.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <optional>
#include <system_error>

#include "bench/descriptions/toml_reader.hpp"
#include "calib/base/ascii.hpp"
#include "calib/base/csv.hpp"
#include "calib/base/dates.hpp"
#include "report/files/files.hpp"

namespace tipwright::bench {

namespace {

namespace fs = std::filesystem;
using calib::trial::Exceedance;
using calib::trial::RainClimate;
using calib::trial::RainLaw;
using calib::trial::RainMinute;

// Minutes of rain in 64 MiB of text: more than 20 years of them.
constexpr std::size_t most_lines = 4'000'000;

std::optional<double> number_in(std::string_view text, char separator) {
    const std::string plain = with_decimal_point(text, separator);
    double value = 0;
    const auto [end, error] = std::from_chars(plain.data(), plain.data() + plain.size(), value);
    if (error != std::errc() || end != plain.data() + plain.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

std::vector<std::string_view> fields_of(std::string_view line, char separator) {
    std::vector<std::string_view> out;
    std::size_t at = 0;
    for (;;) {
        const std::size_t end = std::min(line.find(separator, at), line.size());
        out.push_back(trimmed(line.substr(at, end - at), " \"\r"));
        if (end == line.size()) return out;
        at = end + 1;
    }
}

// Long files, line by line: columns by name, # and blank lines left out.
class LongTable {
public:
    static Result<LongTable> read(const fs::path& file) {
        LongTable out;
        out.name_ = file.string();
        auto text = read_file(file);
        if (!text) return text.fault();
        out.text_ = std::move(*text);
        return out;
    }
    // Calls row(line number, fields) for each; stops at a fault.
    template <class Row>
    Outcome each(const std::vector<std::string>& wanted, const std::vector<bool>& needed, Row row) const {
        std::vector<std::size_t> columns;
        char separator = ',';
        std::size_t line_number = 0;
        std::string_view rest(text_);
        if (rest.starts_with("\xEF\xBB\xBF")) rest.remove_prefix(3);
        std::vector<std::string_view> picked(wanted.size());
        while (!rest.empty()) {
            const std::size_t end = std::min(rest.find('\n'), rest.size());
            const std::string_view line = rest.substr(0, end);
            rest.remove_prefix(std::min(end + 1, rest.size()));
            if (++line_number > most_lines)
                return Fault{FaultCode::file_too_large, "more than four million lines", name_,
                             "split the file"};
            if (line.empty() || line == "\r" || line.front() == '#') continue;
            if (columns.empty()) {
                for (char candidate : {';', '\t'})
                    if (line.find(candidate) != std::string_view::npos) separator = candidate;
                const auto heading = fields_of(line, separator);
                for (std::size_t i = 0; i < wanted.size(); ++i) {
                    const auto found = std::find(heading.begin(), heading.end(), wanted[i]);
                    if (found == heading.end() && needed[i])
                        return Fault{FaultCode::missing_field, "no column " + wanted[i], where(line_number),
                                     "name it so in the heading"};
                    columns.push_back(found == heading.end()
                                          ? std::string_view::npos
                                          : static_cast<std::size_t>(found - heading.begin()));
                }
                continue;
            }
            const auto fields = fields_of(line, separator);
            for (std::size_t i = 0; i < columns.size(); ++i)
                picked[i] = columns[i] < fields.size() ? fields[columns[i]] : std::string_view();
            if (auto done = row(where(line_number), picked, separator); !done) return done;
        }
        if (columns.empty())
            return Fault{FaultCode::missing_field, "the file is empty", name_, "give a heading and rows"};
        return Done{};
    }

private:
    std::string where(std::size_t line) const { return name_ + ":" + std::to_string(line); }
    std::string name_;
    std::string text_;
};

Fault bad_number(const std::string& where, std::string_view text, const std::string& what) {
    return {FaultCode::bad_value, in_quotes(text) + " is no " + what, where,
            "correct the row or leave it out"};
}

Result<RainClimate> from_minutes(const std::string& title, const fs::path& file) {
    const auto table = LongTable::read(file);
    if (!table) return table.fault();
    std::vector<RainMinute> minutes;
    std::int64_t row_number = 0;
    std::int64_t first = 0;
    std::int64_t last = -1;
    const auto done = table->each(
        {"intensity_mm_h", "time"}, {true, false},
        [&](const std::string& where, const std::vector<std::string_view>& fields,
            char separator) -> Outcome {
            std::int64_t minute = row_number++;
            if (!fields[1].empty()) {
                const auto at = seconds_of(fields[1]);
                if (!at) return bad_number(where, fields[1], "time such as 2031-05-04T10:11");
                minute = static_cast<std::int64_t>(std::floor(*at / 60));
            }
            if (fields[0].empty()) return Done{};  // not measured
            const auto intensity = number_in(fields[0], separator);
            if (!intensity || !(*intensity >= 0)) return bad_number(where, fields[0], "intensity in mm/h");
            if (last >= first && minute <= last)
                return Fault{FaultCode::inconsistent, "this minute is not after the one before it", where,
                             "sort the rows by time, each minute once"};
            if (last < first) first = minute;
            last = minute;
            if (*intensity > 0) minutes.push_back({minute, *intensity});
            return Done{};
        });
    if (!done) return done.fault();
    return calib::trial::climate_of_minutes(title, minutes, last - first + 1);
}

Result<RainClimate> from_tips(const std::string& title, const fs::path& file, double tip_mm) {
    const auto table = LongTable::read(file);
    if (!table) return table.fault();
    std::vector<double> tips;
    const auto done = table->each(
        {"time"}, {true},
        [&](const std::string& where, const std::vector<std::string_view>& fields, char) -> Outcome {
            const auto at = seconds_of(fields[0]);
            if (!at) return bad_number(where, fields[0], "time such as 2031-05-04T10:11:12");
            if (!tips.empty() && *at < tips.back())
                return Fault{FaultCode::inconsistent, "this tip is before the one before it", where,
                             "sort the rows by time"};
            tips.push_back(*at);
            return Done{};
        });
    if (!done) return done.fault();
    if (tips.empty()) return Fault{FaultCode::too_few_points, "no tip", file.string(), "give tips"};
    return calib::trial::climate_of_tips(title, tips, tip_mm);
}

Result<std::vector<Exceedance>> column_of(const fs::path& file, const std::string& column) {
    const auto table = LongTable::read(file);
    if (!table) return table.fault();
    std::vector<Exceedance> rows;
    const auto done =
        table->each({"percent", column}, {true, true},
                    [&](const std::string& where, const std::vector<std::string_view>& fields,
                        char separator) -> Outcome {
                        const auto percent = number_in(fields[0], separator);
                        const auto intensity = number_in(fields[1], separator);
                        if (!percent) return bad_number(where, fields[0], "share of the time in per cent");
                        if (!intensity) return bad_number(where, fields[1], "intensity in mm/h");
                        rows.push_back({*percent, *intensity});
                        return Done{};
                    });
    if (!done) return done.fault();
    return rows;
}

struct Given {
    TomlTable exceeded, law, minutes, tips;
    std::vector<TomlTable> rows;
};

Result<RainClimate> climate_of(Given& given, const std::string& title, const fs::path& beside,
                               FaultList& faults) {
    calib::trial::ExceedanceRange range;
    if (given.exceeded.given()) {
        const std::string table = given.exceeded.text_or("table", "");
        const std::string column = given.exceeded.text_or("column", "");
        range.widest_percent =
            given.exceeded.number("widest_percent", {0.01, 100, "%"}, range.widest_percent);
        range.least_mm_h = given.exceeded.number("least_mm_h", {0.001, 10, "mm/h"}, range.least_mm_h);
        std::vector<Exceedance> rows;
        for (TomlTable& row : given.rows) {
            rows.push_back({row.number("percent", {1e-6, 100, "%"}),
                            row.number("intensity_mm_h", {1e-3, 2000, "mm/h"})});
            row.finish();
        }
        given.exceeded.finish();
        if (!faults.empty()) return faults.first();
        if (!table.empty()) {
            auto read = column_of(beside / table, column);
            if (!read) return read.fault();
            rows = std::move(*read);
        }
        return calib::trial::climate_of_exceedance(title, rows, range);
    }
    if (given.law.given()) {
        const std::size_t form = given.law.choice("form", {"lognormal", "gamma", "weibull", "exponential"});
        const double wet = given.law.number("wet_percent", {1e-4, 100, "%"});
        const auto law = static_cast<RainLaw>(form);
        double first = 1;
        double second = 1;
        if (law == RainLaw::lognormal) {
            first = given.law.number("median_mm_h", {1e-3, 1000, "mm/h"});
            second = given.law.number("sd_of_log", {1e-2, 5, ""});
        } else if (law == RainLaw::exponential) {
            first = given.law.number("mean_mm_h", {1e-3, 1000, "mm/h"});
        } else {
            first = given.law.number("shape", {1e-2, 100, ""});
            second = given.law.number("scale_mm_h", {1e-3, 1000, "mm/h"});
        }
        given.law.finish();
        if (!faults.empty()) return faults.first();
        return calib::trial::climate_of_law(title, law, first, second, wet);
    }
    if (given.minutes.given()) {
        const std::string file = given.minutes.text("file");
        given.minutes.finish();
        if (!faults.empty()) return faults.first();
        return from_minutes(title, beside / file);
    }
    const std::string file = given.tips.text("file");
    const double tip_mm = given.tips.number("tip_mm", {0.01, 2, "mm"});
    given.tips.finish();
    if (!faults.empty()) return faults.first();
    return from_tips(title, beside / file, tip_mm);
}

Result<SiteDescription> parse_site(const DescriptionText& text, const fs::path& beside) {
    const auto tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    SiteDescription out;
    out.title = root.text("title");
    out.source = root.text("source");
    Given given{root.table("exceeded"), root.table("law"), root.table("minutes"), root.table("tips"), {}};
    const int ways = (given.exceeded.given() ? 1 : 0) + (given.law.given() ? 1 : 0) +
                     (given.minutes.given() ? 1 : 0) + (given.tips.given() ? 1 : 0);
    if (given.exceeded.given()) given.rows = given.exceeded.tables("row");
    root.finish();
    if (!faults.empty()) return faults.first();
    if (ways != 1)
        return Fault{FaultCode::inconsistent, "the rain is given in " + std::to_string(ways) + " ways",
                     text.name, "give one of [exceeded], [law], [minutes], [tips]"};
    out.adjacent_assumed = given.exceeded.given() || given.law.given();
    auto climate = climate_of(given, out.title, beside, faults);
    if (!climate) {
        Fault fault = climate.fault();
        if (fault.where.empty() || fault.where == out.title) fault.where = text.name;
        return fault;
    }
    out.climate = std::move(*climate);
    return out;
}

Result<DescriptionText> read_description(const fs::path& file) {
    auto text = read_file(file, description_bytes_max);
    if (!text) return text.fault();
    return DescriptionText{file.string(), std::move(*text)};
}

}  // namespace

Result<double> seconds_of(std::string_view text) {
    const Fault none{FaultCode::syntax, in_quotes(text) + " is no time", "", "write 2031-05-04T10:11:12"};
    if (text.size() < 16 || (text[10] != 'T' && text[10] != ' ')) return none;
    const auto day = iso_date(text.substr(0, 10));
    if (!day) return none;
    const auto two = [&](std::size_t at, int most) -> std::optional<int> {
        int value = 0;
        const auto [end, error] = std::from_chars(text.data() + at, text.data() + at + 2, value);
        if (error != std::errc() || end != text.data() + at + 2 || value < 0 || value > most)
            return std::nullopt;
        return value;
    };
    const auto hour = two(11, 23);
    const auto minute = two(14, 59);
    if (!hour || !minute || text[13] != ':') return none;
    double second = 0;
    std::size_t at = 16;
    if (at < text.size() && text[at] == ':') {
        const auto [end, error] = std::from_chars(text.data() + at + 1, text.data() + text.size(), second);
        if (error != std::errc() || !(second >= 0 && second < 61)) return none;
        at = static_cast<std::size_t>(end - text.data());
    }
    if (text.substr(at) != "" && text.substr(at) != "Z") return none;
    const auto days = std::chrono::sys_days(*day).time_since_epoch().count();
    return 86400.0 * static_cast<double>(days) + 3600.0 * *hour + 60.0 * *minute + second;
}

Result<SiteDescription> load_site(const std::string& file_or_name, const fs::path& templates) {
    std::error_code error;
    fs::path file = file_or_name;
    if (!fs::is_regular_file(file, error)) {
        const fs::path named = templates / "sites" / (file_or_name + ".toml");
        if (file_or_name.find('/') != std::string::npos || !fs::is_regular_file(named, error)) {
            std::vector<std::string> known;
            for (fs::directory_iterator it(templates / "sites", error), end; !error && it != end;
                 it.increment(error))
                if (it->path().extension() == ".toml") known.push_back(it->path().stem().string());
            std::sort(known.begin(), known.end());
            std::string remedy = "give a file";
            for (std::size_t i = 0; i < known.size(); ++i)
                remedy += (i == 0 ? ", or one of: " : ", ") + known[i];
            return Fault{FaultCode::file_missing,
                         in_quotes(file_or_name) + " is neither a file nor the name of a site", "", remedy};
        }
        file = named;
    }
    const auto text = read_description(file);
    if (!text) return text.fault();
    return parse_site(*text, file.parent_path());
}

Result<calib::trial::Costs> load_costs(const fs::path& file) {
    const auto text = read_description(file);
    if (!text) return text.fault();
    const auto tree = parse_toml(*text);
    if (!tree) return tree.fault();
    FaultList faults(text->name);
    TomlTable root(&*tree, {}, "", faults);
    calib::trial::Costs out;
    out.currency = root.text("currency");
    for (TomlTable& table : root.tables("cost")) {
        const std::string kind = table.text("kind");
        calib::trial::KindCost cost;
        cost.price = table.number("price", {0, 1e7, ""});
        cost.years = table.number("years", {0.1, 100, "years"}, cost.years);
        cost.per_year = table.number("per_year", {0, 1e7, ""}, 0.0);
        table.finish();
        if (!out.kinds.emplace(kind, cost).second)
            table.fault(FaultCode::duplicate, "kind", "the cost of " + in_quotes(kind) + " is given twice",
                        "remove one");
    }
    root.finish();
    if (!faults.empty()) return faults.first();
    return out;
}

}  // namespace tipwright::bench
