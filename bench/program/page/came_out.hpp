// What came out of a run, for its tile: from the record that whoever ran it wrote beside the journal, where
// it is of this very journal; else worked out from the journal, as the certificate would be.
#pragma once

#include <filesystem>
#include <optional>

#include "bench/page/live/came_out.hpp"
#include "calib/base/fault.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

page::CameOut came_out_of(const report::Record& record);
// See page::Judge.
Result<std::optional<page::CameOut>> came_out_of_run(const std::filesystem::path& journal, bool last);

}  // namespace tipwright::program
