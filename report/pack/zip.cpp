#include "report/pack/zip.hpp"

#include <zlib.h>

#include <cstdint>
#include <stdexcept>

namespace tipwright::report::pack {

namespace {

constexpr std::string_view local_mark = "PK\x03\x04";
constexpr std::string_view central_mark = "PK\x01\x02";
constexpr std::string_view end_mark = "PK\x05\x06";
constexpr std::size_t local_bytes = 30;
constexpr std::uint16_t version = 20;  // 2.0: folders
constexpr std::uint16_t made_on_unix = 3U << 8U | version;
constexpr std::uint16_t utf8_names = 1U << 11U;
constexpr std::uint16_t fixed_date = 1U << 5U | 1U;  // 1980-01-01, the first day an archive can name
constexpr std::uint32_t plain_file = 0100644U << 16U;
constexpr std::size_t most_files = 65535;
constexpr std::size_t most_bytes = 0xFFFFFFFE;

void put16(std::string& out, std::uint32_t value) {
    out.push_back(static_cast<char>(value & 0xFFU));
    out.push_back(static_cast<char>(value >> 8U & 0xFFU));
}

void put32(std::string& out, std::uint32_t value) {
    put16(out, value & 0xFFFFU);
    put16(out, value >> 16U);
}

std::uint32_t get(std::string_view bytes, std::size_t at, std::size_t count) {
    std::uint32_t out = 0;
    for (std::size_t i = 0; i < count; ++i)
        out |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[at + i])) << (8 * i);
    return out;
}

std::uint32_t crc_of(std::string_view bytes) {
    return static_cast<std::uint32_t>(
        ::crc32_z(0, reinterpret_cast<const Bytef*>(bytes.data()), bytes.size()));
}

// What local and central header have in common.
void put_common(std::string& out, const File& file, std::uint32_t crc) {
    put16(out, version);
    put16(out, utf8_names);
    put16(out, 0);  // stored
    put16(out, 0);  // midnight
    put16(out, fixed_date);
    put32(out, crc);
    put32(out, static_cast<std::uint32_t>(file.bytes.size()));
    put32(out, static_cast<std::uint32_t>(file.bytes.size()));
    put16(out, static_cast<std::uint32_t>(file.path.size()));
    put16(out, 0);  // no extra field
}

}  // namespace

std::string zip(const std::vector<File>& files) {
    std::string out;
    std::string central;
    if (files.size() > most_files) throw std::length_error("zip: too many files");
    for (const File& file : files) {
        const std::size_t start = out.size();
        if (start + file.bytes.size() + central.size() > most_bytes)
            throw std::length_error("zip: too large");
        const std::uint32_t crc = crc_of(file.bytes);
        out += local_mark;
        put_common(out, file, crc);
        out += file.path;
        out += file.bytes;
        central += central_mark;
        put16(central, made_on_unix);
        put_common(central, file, crc);
        put16(central, 0);  // no comment
        put16(central, 0);  // first disk
        put16(central, 0);  // internal attributes
        put32(central, plain_file);
        put32(central, static_cast<std::uint32_t>(start));
        central += file.path;
    }
    const std::size_t start = out.size();
    out += central;
    out += end_mark;
    put16(out, 0);
    put16(out, 0);
    put16(out, static_cast<std::uint32_t>(files.size()));
    put16(out, static_cast<std::uint32_t>(files.size()));
    put32(out, static_cast<std::uint32_t>(central.size()));
    put32(out, static_cast<std::uint32_t>(start));
    put16(out, 0);  // no comment
    return out;
}

Result<std::vector<File>> unzip(std::string_view bytes, const std::string& name) {
    if (bytes.size() > max_pack_bytes)
        return Fault{FaultCode::file_too_large,
                     "larger than " + std::to_string(max_pack_bytes >> 20) + " MiB", name,
                     "a pack is not that large"};
    std::vector<File> out;
    std::size_t at = 0;
    while (bytes.size() - at >= local_bytes && bytes.substr(at, local_mark.size()) == local_mark &&
           out.size() < most_files) {
        const std::size_t size = get(bytes, at + 18, 4);
        const std::size_t name_size = get(bytes, at + 26, 2);
        if (bytes.size() - at - local_bytes < name_size || bytes.size() - at - local_bytes - name_size < size)
            break;
        out.push_back({std::string(bytes.substr(at + local_bytes, name_size)),
                       std::string(bytes.substr(at + local_bytes + name_size, size))});
        if (crc_of(out.back().bytes) != get(bytes, at + 14, 4))
            return Fault{FaultCode::damaged, in_quotes(out.back().path) + " in it was changed", name,
                         "ask the laboratory for the pack as it was made"};
        at += local_bytes + name_size + size;
    }
    if (out.empty() || zip(out) != bytes)
        return Fault{FaultCode::damaged,
                     "not a pack as the program writes it: changed, cut short, or packed anew", name,
                     "unpack it and check the folder, or ask the laboratory"};
    return out;
}

}  // namespace tipwright::report::pack
