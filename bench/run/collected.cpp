#include "bench/run/collected.hpp"

#include <algorithm>
#include <charconv>
#include <optional>
#include <string_view>

#include "bench/journal/reader.hpp"
#include "bench/run/sequence.hpp"

namespace tipwright::bench {

namespace {

class Collected {
public:
    void take(const JournalEntry& entry) {
        if (entry.kind == "weight" && !draining_) {
            const std::string_view text = entry.field("mass_g");
            double mass_g = 0;
            if (std::from_chars(text.data(), text.data() + text.size(), mass_g).ec != std::errc()) return;
            if (!first_g_) first_g_ = mass_g;
            last_g_ = mass_g;
        } else if (entry.kind == "continue") {
            end_stretch();
            draining_ = false;
        } else if (entry.kind == "state") {
            const bool drains = entry.field("to") == name_of(RunState::draining);
            if (drains) end_stretch();
            // One that was broken off may have left all of it.
            if (draining_ && entry.field("to") != name_of(RunState::stopping)) before_g_ = 0;
            draining_ = drains;
        }
    }
    double mass_g() const { return before_g_ + (first_g_ ? std::max(last_g_ - *first_g_, 0.0) : 0); }

private:
    void end_stretch() {
        before_g_ = mass_g();
        first_g_.reset();
    }

    bool draining_ = false;
    double before_g_ = 0;
    std::optional<double> first_g_;
    double last_g_ = 0;
};

}  // namespace

Result<double> collected_g(const std::filesystem::path& journal) {
    Collected collected;
    const auto summary = read_journal(journal, [&](const JournalEntry& entry) -> Outcome {
        collected.take(entry);
        return Done{};
    });
    if (!summary) return summary.fault();
    return collected.mass_g();
}

}  // namespace tipwright::bench
