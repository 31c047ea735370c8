// Tables that come into the register.
#include <cmath>

#include "report/register/csv.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto table = report::read_csv(fuzz::text_of(data, size), "table.csv");
    if (!table) {
        fuzz::must(table.fault().where.starts_with("table.csv"), "a fault names the file");
        return 0;
    }
    for (const auto& line : table->lines) {
        fuzz::must(line.line > 0 && line.fields.size() <= report::max_csv_fields, "a line has its place");
        for (const auto& field : line.fields) {
            double number = 0;
            if (report::csv_number(field.text, table->separator, number))
                fuzz::must(std::isfinite(number), "a number is one");
        }
    }
    return 0;
}
