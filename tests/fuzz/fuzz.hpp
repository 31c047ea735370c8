// What the fuzz targets share. A target feeds outside bytes to one parser and checks what must hold for any
// bytes at all; libFuzzer drives it (clang, TIPWRIGHT_FUZZ), replay.cpp passes it the committed corpus
// (ctest).
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <span>
#include <string>
#include <string_view>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace tipwright::fuzz {

inline std::string_view text_of(const std::uint8_t* data, std::size_t size) {
    return {reinterpret_cast<const char*>(data), size};
}

inline void must(bool holds, const char* what) {
    if (holds) return;
    std::fprintf(stderr, "does not hold: %s\n", what);
    std::abort();
}

inline std::vector<std::string_view> lines_of(std::string_view text) {
    std::vector<std::string_view> lines;
    while (!text.empty()) {
        const std::size_t end = text.find('\n');
        lines.push_back(text.substr(0, end));
        text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
    }
    return lines;
}

// Feeds the bytes as a link does: in two reads cut at `cut`, what was not consumed coming again with more
// behind it. take(bytes) tells how many it is done with.
template <class Take>
void in_two_reads(std::string_view bytes, std::size_t cut, Take take) {
    const auto span = std::as_bytes(std::span(bytes));
    std::size_t done = 0;
    for (const std::size_t end : {cut < bytes.size() ? cut : bytes.size(), bytes.size()}) {
        const std::size_t taken = take(span.subspan(done, end - done));
        must(taken <= end - done, "no more is consumed than came");
        done += taken;
    }
}

}  // namespace tipwright::fuzz
