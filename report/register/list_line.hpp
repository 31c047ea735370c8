// Lists that are imported from CSV: a line by the names of its columns, and what a heading must be. Faults
// are thrown as Stop and name the column; place() makes file:line:column of it. Private to report/register.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/csv.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {

class Line {
public:
    Line(const CsvRow& line, const CsvRow& heading, const std::string& name, char separator)
        : line_(line), heading_(heading), name_(name), separator_(separator) {}

    // Without blanks around it; empty: not given.
    std::string text(std::string_view column) const;
    std::optional<double> number(std::string_view column) const;
    // file:line:column of a field named in a fault.
    std::string place(const std::string& column) const;
    // Throws Stop: more fields than the heading.
    void check_length() const;

private:
    const CsvField* find(std::string_view column) const;

    const CsvRow& line_;
    const CsvRow& heading_;
    const std::string& name_;
    char separator_;
};

struct ListHeading {
    std::vector<std::string> known, needed;  // columns
};
// One write, of all lines or of none: `take` is given each, `end` what is to be done after the last. Faults
// of lines, at most 50, stand in the report with their places.
Result<ImportReport> import_list(
    Register::Impl& impl, const Actor& actor, std::string_view csv, const std::string& name,
    const ListHeading& wanted, const std::function<void(Writer&, const Line&, ImportReport&)>& take,
    const std::function<void(Writer&, ImportReport&)>& end = [](Writer&, ImportReport&) {});

}  // namespace tipwright::report
