// Tables from outside: measurements made elsewhere, lists of gauges.
#include "calib/base/csv.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto table = parse_csv(fuzz::text_of(data, size), "table.csv");
    if (!table) {
        fuzz::must(table.fault().where.starts_with("table.csv"), "a fault names the file");
        return 0;
    }
    // What was read, written between commas, is read as the same.
    std::string written;
    for (const CsvRow& row : table->rows) {
        fuzz::must(!row.fields.empty() && row.fields.size() <= csv_fields_max, "a row has fields");
        for (std::size_t i = 0; i < row.fields.size(); ++i) {
            fuzz::must(row.fields[i].at.line > 0 && row.fields[i].at.column > 0, "a field has its place");
            written += (i > 0 ? ",\"" : "\"");
            for (const char c : row.fields[i].text)
                written += c == '"' ? std::string("\"\"") : std::string(1, c);
            written += "\"";
        }
        written += "\n";
    }
    const auto again = parse_csv(written, "again.csv");
    fuzz::must(again.ok(), "what was written is read");
    return 0;
}
