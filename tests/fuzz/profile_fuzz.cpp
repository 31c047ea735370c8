// Instrument profiles: any text is a profile or a fault that names its place.
#include "bench/instruments/profile.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto profile = bench::parse_profile({"profile.toml", std::string(fuzz::text_of(data, size))});
    if (!profile) fuzz::must(profile.fault().where.starts_with("profile.toml"), "a fault names the file");
    return 0;
}
