#include "bench/instruments/tip_counter/instruments.hpp"

namespace tipwright::bench {

std::shared_ptr<const TipCounterProfile> parse_tip_counter(TomlTable& root) {
    auto profile = std::make_shared<TipCounterProfile>();
    profile->answers_identity = root.flag("answers_identity", profile->answers_identity);
    TomlTable timing = root.table("timing");
    profile->silence_s = timing.number("silence_s", {2, 600, "s"}, profile->silence_s);
    profile->drift_limit_ppm = timing.number("drift_limit_ppm", {1, 10000, "ppm"}, profile->drift_limit_ppm);
    timing.finish();
    return profile;
}

}  // namespace tipwright::bench
