// Gauges, plans, benches and lanes: the first byte chooses which. Any text is one or a fault that names its
// place.
#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/lanes.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    const bench::DescriptionText text{"text.toml", std::string(fuzz::text_of(data + 1, size - 1))};
    std::string where = text.name;
    if (data[0] == 'b') {
        const auto bench = bench::parse_bench(text);
        if (!bench) where = bench.fault().where;
    } else if (data[0] == 'l') {
        const auto lanes = bench::parse_lanes(text);
        if (!lanes) where = lanes.fault().where;
    } else if (data[0] == 'p') {
        const auto plan = bench::parse_plan(text);
        if (!plan) where = plan.fault().where;
    } else {
        const auto gauge = bench::parse_gauge({}, text);
        if (!gauge) where = gauge.fault().where;
    }
    fuzz::must(where.starts_with(text.name), "a fault names the file");
    return 0;
}
