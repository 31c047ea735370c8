// Modbus RTU: the first four bytes make a request, the rest is what came back. A first byte with its top bit
// set gives each eight bytes that follow a right checksum, so that what lies behind it is reached.
#include <cmath>

#include "bench/instruments/modbus/protocol.hpp"
#include "bench/instruments/modbus_crc.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

namespace {

bench::ModbusRequest request_of(const std::uint8_t* data) {
    constexpr bench::ModbusFunction functions[] = {
        bench::ModbusFunction::read_holding, bench::ModbusFunction::read_input,
        bench::ModbusFunction::write_one, bench::ModbusFunction::write_many};
    bench::ModbusRequest request;
    request.unit = 1 + data[1] % 247;
    request.function = functions[data[0] % 4];
    request.address = data[2];
    request.count = static_cast<std::uint16_t>(1 + data[3] % bench::modbus_read_max);
    request.values.assign(1 + data[3] % bench::modbus_write_max, data[2]);
    return request;
}

void append_checked(std::string& out, std::string_view body) {
    const std::uint16_t crc = bench::crc16_modbus(body);
    out += body;
    out += static_cast<char>(crc & 0xFF);
    out += static_cast<char>(crc >> 8);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size < 4) return 0;
    const bench::ModbusRequest request = request_of(data);
    fuzz::must(bench::modbus_frame(request).size() <= 256, "a frame fits the line");
    std::string came(fuzz::text_of(data + 4, size - 4));
    if (data[0] & 0x80u) {
        const std::string bodies = came;
        came.clear();
        const std::size_t length = 3 + data[1] % 8u;
        for (std::size_t at = 0; at < bodies.size(); at += length)
            append_checked(came, std::string_view(bodies).substr(at, length));
    }
    fuzz::in_two_reads(came, came.size() / 2, [&](std::span<const std::byte> bytes) {
        std::size_t done = 0;
        while (true) {
            const bench::ModbusParse parse = bench::parse_modbus(bytes.subspan(done), request);
            done += parse.consumed;
            if (parse.kind == bench::ModbusParse::Kind::need_more) return done;
            fuzz::must(parse.consumed > 0, "an answer takes bytes");
            if (parse.kind != bench::ModbusParse::Kind::response || parse.values.size() < 2) continue;
            fuzz::must(parse.values.size() == request.count, "as many registers as were asked for");
            for (const auto type :
                 {bench::ModbusType::int16, bench::ModbusType::uint32, bench::ModbusType::float32}) {
                const double number = bench::modbus_number(type, parse.values, data[2] % 2 == 0);
                const auto back = bench::modbus_registers_of(type, number, data[2] % 2 == 0);
                if (std::isfinite(number))
                    fuzz::must(back && bench::modbus_number(type, *back, data[2] % 2 == 0) == number,
                               "there and back");
            }
        }
    });
    return 0;
}
