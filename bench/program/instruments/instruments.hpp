// Instrument commands: finding instruments, looking at what goes over their links, checking and calibrating
// them on the bench. Each prints its own result or one line of error.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/links/serial_settings.hpp"
#include "bench/program/commands.hpp"

namespace tipwright::program {

struct ListenOptions {
    std::string link;     // as in a bench description, or "replay FILE"
    std::string profile;  // empty: bytes only
    std::string bench;    // instead of link and profile
    std::string role;
    std::vector<std::string> send;  // with \r, \n, \x1B
    std::vector<std::string> ask;   // identify, read, tare, stop
    double duration_s = 10;
    std::optional<int> lines;  // ends after so many that were understood
    std::filesystem::path record;
    bench::SerialSettings serial;  // without a profile
};

ExitCode ports(const CommonOptions& common);
ExitCode listen(const CommonOptions& common, const ListenOptions& options);

}  // namespace tipwright::program
