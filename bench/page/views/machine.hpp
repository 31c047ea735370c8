// The same facts for other programs: JSON (described by templates/page/openapi.json) and OpenMetrics 1.0
// (openmetrics.io). Pure.
#pragma once

#include <string>
#include <vector>

#include "bench/page/live/run_facts.hpp"
#include "bench/page/live/work_folder.hpp"
#include "report/register/table.hpp"

namespace tipwright::page {

std::string runs_json(const std::vector<RunFacts>& runs, const std::vector<EarlierRun>& earlier);
std::string run_json(const RunFacts& run);
// {"version":1, NAME:[{COLUMN: value, ...}], "cut": whether there are more}; cells without a value are null.
std::string register_json(const std::string& name, const report::Table& table);
std::string fault_json(const Fault& fault);
std::string metrics_text(const std::vector<RunFacts>& runs);

}  // namespace tipwright::page
