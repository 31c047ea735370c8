// listen --learn: a profile from an instrument's bytes, with a person who does what is asked.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/links/serial_settings.hpp"
#include "bench/program/common_options.hpp"

namespace tipwright::program {

struct LearnOptions {
    std::string link;  // or bench and role
    std::string bench;
    std::string role;
    std::vector<std::string> send;  // one question, with \r, \n, \x1B
    double watch_s = 10;            // for each thing that is done
    bench::SerialSettings serial;
    std::filesystem::path file;  // the profile
    std::optional<double> mass_g;
    bool no_pump = false;  // the person's word
    std::string stop;      // bytes that stop it
};

ExitCode learn_profile(const CommonOptions& common, const LearnOptions& options);

}  // namespace tipwright::program
