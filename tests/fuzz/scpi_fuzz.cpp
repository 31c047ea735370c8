// SCPI: response lines, their elements, numbers and errors.
#include <cmath>

#include "bench/instruments/scpi/protocol.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    for (const std::string_view line : fuzz::lines_of(fuzz::text_of(data, size))) {
        const auto elements = bench::split_scpi(line);
        fuzz::must(!elements.empty(), "a line has an element, if an empty one");
        for (const std::string_view element : elements) {
            const auto number = bench::read_scpi_number(element);
            if (number && number->kind == bench::ScpiNumber::Kind::value)
                fuzz::must(std::isfinite(number->value), "a value is a number");
        }
        const auto error = bench::read_scpi_error(line);
        if (error) fuzz::must(error->text.size() < line.size(), "an error's words stand in the line");
    }
    return 0;
}
