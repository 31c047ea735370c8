// Supplied measurements: any table is one or a fault that names its place.
#include "bench/supplied/supplied.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto supplied = bench::parse_supplied({"table.csv", std::string(fuzz::text_of(data, size))});
    if (!supplied) {
        fuzz::must(supplied.fault().where.starts_with("table.csv"), "a fault names the file");
        return 0;
    }
    fuzz::must(!supplied->observations.empty(), "a table that is taken has a step");
    return 0;
}
