#include "bench/run/pump_use.hpp"

#include <charconv>
#include <optional>
#include <string_view>

#include "bench/journal/reader.hpp"

namespace tipwright::bench {

namespace {

class PumpUse {
public:
    void take(const JournalEntry& entry) {
        // Nobody knows what the pump did between the last entry and the going on; the run stopped it first.
        if (entry.kind == "continue") stop(last_s_);
        last_s_ = entry.time_s;
        if (entry.kind != "pump") return;
        const std::string_view text = entry.field("flow_mL_min");
        double flow_mL_min = 0;
        std::from_chars(text.data(), text.data() + text.size(), flow_mL_min);
        if (!(flow_mL_min > 0)) return stop(entry.time_s);
        if (!since_s_) since_s_ = entry.time_s;
    }
    double total_h() {
        stop(last_s_);
        return total_s_ / 3600;
    }

private:
    void stop(double at_s) {
        if (since_s_) total_s_ += at_s - *since_s_;
        since_s_.reset();
    }

    std::optional<double> since_s_;  // it runs since then
    double last_s_ = 0;
    double total_s_ = 0;
};

}  // namespace

Result<double> pumping_h(const std::filesystem::path& journal) {
    PumpUse use;
    const auto read = read_journal(journal, [&use](const JournalEntry& entry) -> Outcome {
        use.take(entry);
        return Done{};
    });
    if (!read) return read.fault();
    return use.total_h();
}

}  // namespace tipwright::bench
