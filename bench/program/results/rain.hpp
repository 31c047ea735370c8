// rain: corrected rain from a logger's file and a certificate.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "bench/program/commands.hpp"
#include "bench/program/options/options.hpp"
#include "calib/rain/tips_log.hpp"

namespace tipwright::program {

struct RainOptions {
    std::filesystem::path log;
    std::vector<std::filesystem::path> certificates;  // records or certificates, oldest first
    std::filesystem::path out;
    calib::LogFormat format;
    std::string zone = "+00:00";  // of times without one, and of days
    std::string dates = "auto";
    std::string drift = "uncertainty";
    double event_gap_h = 6;
    double spread_min = 60;
    double bounce_s = 0;  // 0: the gauge's own
    std::string paper = "A4";
    std::string language = "en";
};

struct VirtualRainOptions {
    std::string gauge;
    std::filesystem::path out;
    double days = 90;
    std::uint64_t seed = 1;
    std::string from = "2031-04-01";
    std::string climate = "middle";
};

ExitCode rain(const CommonOptions& common, const RainOptions& options);
ExitCode virtual_rain(const CommonOptions& common, const VirtualRainOptions& options);
void add_rain(CommandLine& line);

}  // namespace tipwright::program
