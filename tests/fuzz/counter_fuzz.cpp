// Tip counter: lines as they come and, when the first byte is odd, each with a right checksum. What is read
// does not depend on how the bytes were cut into reads.
#include "bench/instruments/modbus_crc.hpp"
#include "bench/instruments/tip_counter/protocol.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

namespace {

std::vector<std::string> read_in_two(std::string_view text, std::size_t cut) {
    std::vector<std::string> events;
    fuzz::in_two_reads(text, cut, [&](std::span<const std::byte> bytes) {
        std::size_t done = 0;
        while (true) {
            const bench::CounterParse parse = bench::parse_counter(bytes.subspan(done));
            done += parse.consumed;
            if (parse.kind == bench::CounterParse::Kind::need_more) return done;
            fuzz::must(parse.consumed > 0, "a line takes bytes");
            if (parse.kind != bench::CounterParse::Kind::line) continue;
            const bench::CounterLine& line = parse.line;
            fuzz::must(!line.is_edge() || line.contact == 1 || line.contact == 2, "a contact is 1 or 2");
            events.push_back(std::to_string(line.sequence) + " " + std::to_string(line.device_us) + " " +
                             std::to_string(line.contact) + (line.closed ? " 1 " : " 0 ") +
                             std::string(line.identity));
        }
    });
    return events;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size < 2) return 0;
    std::string text(fuzz::text_of(data + 2, size - 2));
    if (data[0] & 1u) {
        std::string checked;
        for (const std::string_view body : fuzz::lines_of(text)) {
            char tail[16];
            std::snprintf(tail, sizeof tail, " *%04X\r\n", bench::crc16_modbus(body));
            checked += std::string(body) + tail;
        }
        text = checked;
    }
    const std::size_t cut = data[1] * text.size() / 256;
    fuzz::must(read_in_two(text, cut) == read_in_two(text, text.size()), "cuts between reads do not matter");
    return 0;
}
