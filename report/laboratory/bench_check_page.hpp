// A check of a bench as one page (PDF): what was checked, found and allowed, whether all is well, and what
// the program cannot do when it is killed or its computer dies, which remains to the person. It certifies no
// gauge and says so. Rows are the program's own, as its terminal shows them; what surrounds them is in the
// page's language.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/laboratory/laboratory_report.hpp"

namespace tipwright::report {

struct BenchCheckRow {
    std::string instrument;
    std::string check;
    std::string verdict;  // as the terminal writes it
    std::string found;
    std::string allowed;  // empty: nothing to compare with
};

struct BenchCheckReport {
    std::string bench;
    std::string checked_at;  // ISO 8601, UTC
    std::string checked_by;  // may be empty
    std::vector<BenchCheckRow> rows;
    std::vector<std::string> accepted;  // what was put up with, and why
    std::string failed;                 // which checks failed; empty: all is well
    double pump_stops_itself_s = 0;     // of silence; 0: it never does, or nobody came to ask
    bool invented = false;
    Origin origin = Origin::real_bench;
};

// Faults: bad_value (a letter the font lacks), those of the fonts.
Result<std::string> draw_bench_check(const BenchCheckReport& report, const Stationery& paper);

}  // namespace tipwright::report
