// Recordings of traffic: any text is one or a fault that names its place; what is read is written again
// alike.
#include "bench/links/traffic.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto traffic = bench::parse_traffic(fuzz::text_of(data, size), "file");
    if (!traffic) {
        fuzz::must(traffic.fault().where.starts_with("file"), "a fault names the file");
        return 0;
    }
    std::string text = std::string(bench::traffic_first_line) + "\n";
    for (const auto& entry : traffic->entries) text += bench::traffic_line(entry);
    const auto again = bench::parse_traffic(text, "again");
    fuzz::must(again && again->entries.size() == traffic->entries.size(), "what was written can be read");
    for (std::size_t i = 0; i < again->entries.size(); ++i) {
        fuzz::must(again->entries[i].bytes == traffic->entries[i].bytes, "the bytes are the same");
        fuzz::must(again->entries[i].way == traffic->entries[i].way, "and the way");
    }
    return 0;
}
