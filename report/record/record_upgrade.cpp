#include "report/record/record_upgrade.hpp"

#include <nlohmann/json.hpp>

namespace tipwright::report {

std::span<const RecordStep> record_steps() {
    return {};
}

void upgrade_record(nlohmann::json& record, FormatVersion from, std::span<const RecordStep> steps) {
    for (const RecordStep& step : steps)
        if (step.to > from) step.apply(record);
}

}  // namespace tipwright::report
