#include "bench/program/results/table_check.hpp"

#include "report/tables/correction_csv.hpp"

namespace tipwright::program {

std::string without_seal_line(const std::string& bytes) {
    const std::size_t before = bytes.size() < 2 ? std::string::npos : bytes.rfind('\n', bytes.size() - 2);
    if (before == std::string::npos || bytes.compare(before + 1, 22, "# tipwright-file-seal ") != 0) return bytes;
    return bytes.substr(0, before + 1);
}

std::string table_of(const report::Record& record, const std::string& bytes) {
    if (bytes.starts_with("# tipwright correction ")) {
        const auto table = report::correction_csv(record);
        return table ? *table : "";
    }
    if (bytes.starts_with("# tipwright results ")) return report::results_csv(record);
    return bytes.starts_with("# tipwright runs ") ? report::runs_csv(record) : "";
}

}  // namespace tipwright::program
