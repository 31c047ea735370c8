#include "report/register/list_line.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "calib/base/joined.hpp"
#include "report/files/inert_text.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t max_list_faults = 50;

void check_heading(const CsvRow& heading, const std::string& name, const std::vector<std::string>& known,
                   const std::vector<std::string>& needed, std::vector<Fault>& faults) {
    std::vector<std::string> seen;
    const std::string there_are = joined(known, ", ");
    for (const CsvField& field : heading.fields) {
        const std::string where = tipwright::where(name, field.at);
        if (std::find(known.begin(), known.end(), field.text) == known.end())
            faults.push_back({FaultCode::unknown_field, "no column is called " + in_quotes(field.text), where,
                              "there are " + there_are});
        else if (std::find(seen.begin(), seen.end(), field.text) != seen.end())
            faults.push_back(
                {FaultCode::duplicate, "column " + in_quotes(field.text) + " stands here twice", where, ""});
        seen.push_back(field.text);
    }
    for (const std::string& column : needed)
        if (std::find(seen.begin(), seen.end(), column) == seen.end())
            faults.push_back(
                {FaultCode::missing_field, "there is no column " + in_quotes(column), name + ":1", ""});
}

// A fault of the database itself ends an import; a fault of a line is told with its place.
bool ends_import(const Fault& fault) {
    return fault.code == FaultCode::database_unreachable || fault.code == FaultCode::disk_full ||
           fault.code == FaultCode::damaged;
}

}  // namespace

std::string Line::text(std::string_view column) const {
    const CsvField* field = find(column);
    if (field == nullptr) return {};
    const std::size_t first = field->text.find_first_not_of(' ');
    if (first == std::string::npos) return {};
    return from_inert(field->text.substr(first, field->text.find_last_not_of(' ') - first + 1));
}

std::optional<double> Line::number(std::string_view column) const {
    const std::string given = text(column);
    if (given.empty()) return std::nullopt;
    const std::string plain = with_decimal_point(given, separator_);
    const char* end = plain.data() + plain.size();
    // A plus sign stands before an error above zero.
    const char* begin = plain.data() + (plain.size() > 1 && plain[0] == '+' && plain[1] != '-' ? 1 : 0);
    double out = 0;
    if (const auto [stopped, error] = std::from_chars(begin, end, out);
        error != std::errc{} || stopped != end || !std::isfinite(out))
        stop(FaultCode::bad_value, in_quotes(given) + " is not a number", std::string(column));
    return out;
}

std::string Line::place(const std::string& column) const {
    const CsvField* field = find(column);
    return field != nullptr ? where(name_, field->at)
                            : name_ + ":" + std::to_string(line_.fields.front().at.line);
}

void Line::check_length() const {
    if (line_.fields.size() > heading_.fields.size())
        stop(FaultCode::syntax, std::to_string(line_.fields.size()) + " fields under a heading of " +
                                    std::to_string(heading_.fields.size()));
}

const CsvField* Line::find(std::string_view column) const {
    for (std::size_t i = 0; i < heading_.fields.size() && i < line_.fields.size(); ++i)
        if (heading_.fields[i].text == column) return &line_.fields[i];
    return nullptr;
}

Result<ImportReport> import_list(Register::Impl& impl, const Actor& actor, std::string_view csv,
                                 const std::string& name, const ListHeading& wanted,
                                 const std::function<void(Writer&, const Line&, ImportReport&)>& take,
                                 const std::function<void(Writer&, ImportReport&)>& end) {
    Result<CsvText> text = parse_csv(csv, name);
    if (!text) return text.fault();
    if (text->rows.empty()) return Fault{FaultCode::missing_field, "the list is empty", name, ""};
    return answered([&] {
        ImportReport report;
        const CsvRow& heading = text->rows.front();
        check_heading(heading, name, wanted.known, wanted.needed, report.faults);
        if (!report.faults.empty()) return report;
        Writer writer(impl, actor, Permission::any);
        for (std::size_t i = 1; i < text->rows.size() && report.faults.size() < max_list_faults; ++i) {
            const Line line(text->rows[i], heading, name, text->separator);
            try {
                line.check_length();
                take(writer, line, report);
            } catch (Stop& bad) {
                if (ends_import(bad.fault)) throw;
                bad.fault.where = line.place(bad.fault.where);
                report.faults.push_back(std::move(bad.fault));
            }
        }
        if (!report.faults.empty()) {
            report.added = report.changed = report.unchanged = 0;
            return report;
        }
        end(writer, report);
        writer.commit();
        return report;
    });
}

}  // namespace tipwright::report
