// Files of bench checks: any text is one or a fault that names its place; what is read is written again
// alike.
#include "bench/descriptions/bench_checks.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto checks = bench::parse_bench_checks({"checks.toml", std::string(fuzz::text_of(data, size))});
    if (!checks) {
        fuzz::must(checks.fault().where.starts_with("checks.toml"), "a fault names the file");
        return 0;
    }
    const std::string text = bench::text_of(*checks);
    const auto again = bench::parse_bench_checks({"again.toml", text});
    fuzz::must(again.ok(), "what was written can be read");
    fuzz::must(bench::text_of(*again) == text, "and is the same");
    return 0;
}
