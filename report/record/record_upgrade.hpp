// Records of earlier versions, brought to the present form before they are read: by one small step for each
// version that changed the form, in their order.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <span>

#include "calib/base/format_version.hpp"

namespace tipwright::report {

// From the version before it to `to`. Touches nothing that is not as that version has it: the reader then
// names what is wrong. A step that was released is never edited.
struct RecordStep {
    FormatVersion to;
    void (*apply)(nlohmann::json& record);
};

// Ascending. None yet: 1.0 is the first version.
std::span<const RecordStep> record_steps();

// Applies the steps that lead on from version `from`.
void upgrade_record(nlohmann::json& record, FormatVersion from, std::span<const RecordStep> steps);

}  // namespace tipwright::report
