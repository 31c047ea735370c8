// Lists that are imported from CSV: a line by the names of its columns, and what a heading must be. Faults
// are thrown as Stop and name the column; place() makes file:line:column of it. Private to report/register.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/csv.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {

inline constexpr std::size_t max_list_faults = 50;

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

void check_heading(const CsvRow& heading, const std::string& name, const std::vector<std::string>& known,
                   const std::vector<std::string>& needed, std::vector<Fault>& faults);
// A fault of the database itself ends an import; a fault of a line is told with its place.
bool ends_import(const Fault& fault);

}  // namespace tipwright::report
