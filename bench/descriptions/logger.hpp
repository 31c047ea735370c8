// Logger: how a logger's file is to be read, as TOML: columns, zone, order of dates, interval of counts.
//   time = "Zeit"   contact = "reed"   count = "tips"   second = "tips2"   interval_s = 60   start = true
//   zone = "+01:00"   dates = "dmy"   bounce_s = 0.1
// All are optional; names as in the file's heading, or numbers of columns from 1 in quotes. Errors name file,
// line, column.
#pragma once

#include <filesystem>
#include <string>

#include "bench/descriptions/description_text.hpp"
#include "calib/rain/tips_log.hpp"

namespace tipwright::bench {

struct LoggerDescription {
    calib::LogFormat format;
    std::string zone;     // empty: not said
    double bounce_s = 0;  // 0: the gauge's
};

Result<LoggerDescription> parse_logger(const DescriptionText& text);
Result<LoggerDescription> load_logger(const std::filesystem::path& file);

}  // namespace tipwright::bench
