// Line ASCII: the first line is a pattern, the rest is what an instrument sent. Lines are matched by that
// pattern and by those of the shipped balance; a number that is read is finite and is what was shown.
#include <cmath>

#include "bench/instruments/line_ascii/protocol.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

namespace {

constexpr bench::FieldName fields[] = {
    {"mass", bench::FieldKind::number},    {"unit", bench::FieldKind::word},
    {"mass_g", bench::FieldKind::number},  {"mass_kg", bench::FieldKind::number},
    {"mass_mg", bench::FieldKind::number}, {"text", bench::FieldKind::text}};

void check_line(const std::vector<bench::WeightPattern>& patterns, std::string_view line) {
    bench::WeightReading reading;
    if (bench::read_weight(patterns, line, reading) == bench::WeightLine::reading) {
        fuzz::must(std::isfinite(reading.mass_g), "a mass is a number");
        fuzz::must(!reading.text.empty(), "a reading keeps its text");
    }
    for (const bench::WeightPattern& weight : patterns) {
        bench::FieldValues values;
        const auto miss = weight.pattern.mismatch(line);
        fuzz::must(weight.pattern.match(line, values) == !miss, "a line matches or there is a reason");
        if (miss) fuzz::must(miss->at <= line.size() && !miss->wanted.empty(), "the reason has its place");
    }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text = fuzz::text_of(data, size);
    const std::size_t end = std::min(text.find('\n'), text.size());
    std::vector<bench::WeightPattern> patterns;
    for (const std::string_view notation :
         {text.substr(0, end), std::string_view("W {mass:7} {unit} stable"), std::string_view("W over")}) {
        auto pattern = bench::Pattern::compile(notation, fields);
        if (pattern) patterns.push_back({std::move(*pattern), false, notation == "W over"});
    }
    fuzz::in_two_reads(text.substr(end), size / 2, [&](std::span<const std::byte> bytes) {
        std::size_t done = 0;
        while (true) {
            const bench::LineFrame frame = bench::next_line(bytes.subspan(done));
            done += frame.consumed;
            if (frame.kind == bench::LineFrame::Kind::need_more) return done;
            fuzz::must(frame.consumed > 0, "a line takes bytes");
            if (frame.kind == bench::LineFrame::Kind::line) check_line(patterns, frame.text);
        }
    });
    return 0;
}
