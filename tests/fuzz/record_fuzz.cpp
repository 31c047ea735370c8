// Records: any text is a record or a fault that names its place; what is read is written and read again
// alike.
#include "report/record/record_json.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto record = report::record_from_json(fuzz::text_of(data, size), "record.json");
    if (!record) {
        fuzz::must(record.fault().where.starts_with("record.json"), "a fault names the file");
        return 0;
    }
    const std::string text = report::record_to_json(*record);
    const auto again = report::record_from_json(text, "again.json");
    fuzz::must(again.ok(), "what was written can be read");
    fuzz::must(report::record_to_json(*again) == text, "and is the same");
    return 0;
}
