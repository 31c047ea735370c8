// The same facts for other programs: JSON (described by templates/page/openapi.json) and OpenMetrics 1.0
// (openmetrics.io). Pure.
#pragma once

#include <string>
#include <vector>

#include "bench/page/live/run_facts.hpp"
#include "bench/page/live/work_folder.hpp"

namespace tipwright::page {

std::string runs_json(const std::vector<RunFacts>& runs, const std::vector<EarlierRun>& earlier);
std::string run_json(const RunFacts& run);
std::string metrics_text(const std::vector<RunFacts>& runs);

}  // namespace tipwright::page
