// How fast the parsers take what instruments and journals bring, in MB of input a second of one core, beside
// a loop over the same bytes that only finds the line ends (memchr).
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

#include <cstdio>
#include <cstring>
#include <functional>
#include <string>

#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/modbus/protocol.hpp"
#include "bench/instruments/modbus_crc.hpp"
#include "bench/instruments/profile.hpp"
#include "bench/instruments/scpi/protocol.hpp"
#include "bench/instruments/tip_counter/protocol.hpp"
#include "bench/journal/line.hpp"
#include "bench/journal/reader.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr std::size_t input_bytes = 8u << 20;
// A link hands over at most this much at once.
constexpr std::size_t read_bytes = 4096;

std::uint64_t seen = 0;

// Of this thread alone: what other programs take of the core does not count.
double cpu_s() {
    timespec time{};
    ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &time);
    return static_cast<double>(time.tv_sec) + 1e-9 * static_cast<double>(time.tv_nsec);
}

double seconds_of(const std::function<void()>& work) {
    const double start_s = cpu_s();
    work();
    return cpu_s() - start_s;
}

// The best of five: other programs on the machine only make it slower.
double rate_MB_s(std::size_t bytes, const std::function<void()>& work) {
    double best_s = 1e9;
    for (int i = 0; i < 5; ++i) best_s = std::min(best_s, seconds_of(work));
    return static_cast<double>(bytes) * 1e-6 / best_s;
}

bool all_met = true;

// Limits: a fifth below what was reached on the machine of 2026, so that a later slip shows.
void figure(const char* name, double limit_MB_s, double value_MB_s) {
    const bool met = value_MB_s >= limit_MB_s;
    all_met = all_met && met;
    std::printf("figure parser_%s %.0f MB/s limit >= %.0f %s\n", name, value_MB_s, limit_MB_s,
                met ? "ok" : "short");
}

void find_lines(const std::string& text) {
    const char* at = text.data();
    const char* end = at + text.size();
    while (at < end) {
        const void* newline = std::memchr(at, '\n', static_cast<std::size_t>(end - at));
        if (newline == nullptr) break;
        at = static_cast<const char*>(newline) + 1;
        ++seen;
    }
}

// Reads as from a link: blocks of 4 KiB, what is left over comes again.
template <class Take>
void in_reads(const std::string& text, Take take) {
    std::size_t begin = 0;
    std::size_t end = 0;
    while (end < text.size()) {
        end = std::min(end + read_bytes, text.size());
        begin += take(std::as_bytes(std::span(text)).subspan(begin, end - begin));
    }
}

std::string repeated(const std::function<std::string(std::uint32_t)>& line) {
    std::string text;
    for (std::uint32_t i = 0; text.size() < input_bytes; ++i) text += line(i);
    return text;
}

std::string counter_line(std::uint32_t i) {
    const std::string body = "E " + std::to_string(i) + " " + std::to_string(1000000ull * i + 123) + " 1 " +
                             (i % 2 == 0 ? "1" : "0");
    char tail[16];
    std::snprintf(tail, sizeof tail, " *%04X\r\n", crc16_modbus(body));
    return body + tail;
}

std::string weight_line(std::uint32_t i) {
    char line[40];
    std::snprintf(line, sizeof line, "W %7.2f g %s\r\n", 0.01 * (i % 400000),
                  i % 5 == 0 ? "moving" : "stable");
    return line;
}

void measure_lines() {
    const auto profile = load_profile("generic-balance-print", tipwright::test::source_dir() + "/templates");
    const auto line_profile = profile->of<LineAsciiProfile>();
    const std::string text = repeated(weight_line);
    std::printf("figure parser_reference_memchr_lines %.0f MB/s\n",
                rate_MB_s(text.size(), [&] { find_lines(text); }));
    WeightReading reading;
    figure("line_ascii", 500, rate_MB_s(text.size(), [&] {
               in_reads(text, [&](std::span<const std::byte> bytes) {
                   std::size_t done = 0;
                   while (true) {
                       const LineFrame frame = next_line(bytes.subspan(done));
                       done += frame.consumed;
                       if (frame.kind == LineFrame::Kind::need_more) return done;
                       if (read_weight(line_profile->weights, frame.text, reading) == WeightLine::reading)
                           ++seen;
                   }
               });
           }));
}

void measure_counter() {
    const std::string text = repeated(counter_line);
    figure("tip_counter", 950, rate_MB_s(text.size(), [&] {
               in_reads(text, [&](std::span<const std::byte> bytes) {
                   std::size_t done = 0;
                   while (true) {
                       const CounterParse parse = parse_counter(bytes.subspan(done));
                       done += parse.consumed;
                       if (parse.kind == CounterParse::Kind::need_more) return done;
                       seen += parse.line.sequence;
                   }
               });
           }));
}

void measure_modbus() {
    ModbusRequest request;
    request.unit = 2;
    request.function = ModbusFunction::read_input;
    request.count = 16;
    const std::string text = repeated([&](std::uint32_t i) {
        std::string frame("\x02\x04\x20", 3);
        for (std::uint32_t k = 0; k < 16; ++k) {
            frame += static_cast<char>((i + k) >> 8 & 0xFF);
            frame += static_cast<char>(i & 0xFF);
        }
        const std::uint16_t crc = crc16_modbus(frame);
        frame += static_cast<char>(crc & 0xFF);
        frame += static_cast<char>(crc >> 8);
        return frame;
    });
    figure("modbus", 1000, rate_MB_s(text.size(), [&] {
               in_reads(text, [&](std::span<const std::byte> bytes) {
                   std::size_t done = 0;
                   while (true) {
                       const ModbusParse parse = parse_modbus(bytes.subspan(done), request);
                       done += parse.consumed;
                       if (parse.kind == ModbusParse::Kind::need_more) return done;
                       seen += parse.values.size();
                   }
               });
           }));
}

void measure_scpi() {
    const std::string text = repeated([](std::uint32_t i) {
        char line[40];
        std::snprintf(line, sizeof line, "+%u.%04uE+01,%u\n", i % 10, i % 10000, i % 4);
        return std::string(line);
    });
    figure("scpi", 500, rate_MB_s(text.size(), [&] {
               in_reads(text, [&](std::span<const std::byte> bytes) {
                   std::size_t done = 0;
                   while (true) {
                       const LineFrame frame = next_line(bytes.subspan(done));
                       done += frame.consumed;
                       if (frame.kind == LineFrame::Kind::need_more) return done;
                       for (const std::string_view element : split_scpi(frame.text))
                           seen += read_scpi_number(element) ? 1 : 0;
                   }
               });
           }));
}

void measure_journal() {
    std::string text = std::string(journal_first_line) + "\n";
    for (std::uint64_t i = 1; text.size() < input_bytes; ++i) {
        const double time_s = 0.2 * static_cast<double>(i);
        if (i % 4 == 0) {
            append_journal_line(text, i, time_s, "edge",
                                {{"contact", 1},
                                 {"closed", i % 8 == 0},
                                 {"at_s", time_s - 0.0123},
                                 {"device_us", i * 200000},
                                 {"number", i}});
        } else {
            append_journal_line(
                text, i, time_s, "weight",
                {{"mass_g", 0.01 * static_cast<double>(i)}, {"stable", true}, {"text", "12.34 g"}});
        }
    }
    const int file = ::memfd_create("journal", MFD_CLOEXEC);
    if (file < 0 || ::write(file, text.data(), text.size()) != static_cast<ssize_t>(text.size())) return;
    const std::string path = "/proc/self/fd/" + std::to_string(file);
    figure("journal", 850, rate_MB_s(text.size(), [&] {
               const auto summary = read_journal(path, [](const JournalEntry& entry) {
                   seen += entry.fields.size();
                   return Outcome(Done{});
               });
               if (!summary) std::printf("journal: %s\n", summary.fault().line().c_str());
           }));
    ::close(file);
}

}  // namespace

int main() {
    measure_lines();
    measure_counter();
    measure_modbus();
    measure_scpi();
    measure_journal();
    std::fprintf(stderr, "%llu things seen\n", static_cast<unsigned long long>(seen));
    return all_met ? 0 : 1;
}
