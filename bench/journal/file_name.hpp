// What the journal is called in the folder of its run.
#pragma once

namespace tipwright::bench {

inline constexpr const char* journal_name = "journal.twj";

}  // namespace tipwright::bench
