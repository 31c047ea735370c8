#include "calib/rain/tips_log.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;
using namespace tipwright::calib;

namespace {

struct Taken {
    std::vector<LogEntry> entries;
    std::string fault;
    bool counts = false;
    double resolution_s = 0;
};

Taken take(const std::string& text, LogFormat format = {}, std::size_t piece = 1000) {
    Taken out;
    LogReader reader(format, "log.csv", [&](const LogEntry& entry) -> Outcome {
        out.entries.push_back(entry);
        return Done{};
    });
    Outcome done = Done{};
    for (std::size_t at = 0; at < text.size() && done; at += piece)
        done = reader.take(std::string_view(text).substr(at, piece));
    if (done) done = reader.finish();
    if (!done) out.fault = done.fault().line();
    out.counts = reader.counts();
    out.resolution_s = reader.resolution_s();
    return out;
}

// 2031-05-04T10:11:12Z, by date -u -d ... +%s
constexpr double moment = 1935655872;

}  // namespace

TEST_CASE("tips log: times in the ways loggers write them", "[rain]") {
    for (const char* line :
         {"2031-05-04T10:11:12Z", "2031-05-04 10:11:12", "2031/05/04 10:11:12", "04.05.2031 10:11:12",
          "2031-05-04T12:11:12+02:00", "2031-05-04 04:41:12-0530", "\"2031-05-04 10:11:12\"", "1935655872"}) {
        INFO(line);
        const Taken taken = take(std::string(line) + "\n");
        REQUIRE(taken.fault.empty());
        REQUIRE(taken.entries.size() == 1);
        CHECK(taken.entries[0].time_s == moment);
    }
    LogFormat format;
    format.order = DateOrder::month_first;
    CHECK(take("05/04/2031 10:11:12\n", format).entries.at(0).time_s == moment);
    CHECK(take("05/04/2031 10:11:12\n").fault.find("--dates") != std::string::npos);
    format.utc_offset_s = 3600;
    CHECK(take("05/04/2031 11:11:12\n", format).entries.at(0).time_s == moment);
    CHECK(take("2031-05-04T10:11:12.50Z\n").resolution_s == 0.01);
}

TEST_CASE("tips log: the same entries whatever the pieces", "[rain]") {
    const std::string text =
        "\xEF\xBB\xBF# station\r\ntime;contact\r\n2031-05-04 10:11:12;1\r\n\r\ntime;contact\r\n2031-05-04 "
        "10:11:13;2";
    for (const std::size_t piece : {1u, 2u, 7u, 1000u}) {
        const Taken taken = take(text, {}, piece);
        REQUIRE(taken.fault.empty());
        REQUIRE(taken.entries.size() == 2);
        CHECK(taken.entries[1].contact == 2);
        CHECK(taken.entries[1].time_s == moment + 1);
        CHECK(taken.entries[1].line == 6);
    }
}

TEST_CASE("tips log: counts, names, missing values", "[rain]") {
    LogFormat format;
    format.count_column = "Regen";
    format.second_column = "4";
    const Taken taken =
        take("Zeit,T,Regen,R2\n2031-05-04 10:11:12,20.1,3,2\n2031-05-04 10:12:12,20.1,,\n", format);
    REQUIRE(taken.fault.empty());
    CHECK(taken.counts);
    REQUIRE(taken.entries.size() == 2);
    CHECK(taken.entries[0].count == 3);
    CHECK(taken.entries[0].second == 2);
    CHECK(taken.entries[1].count == -1);
}

TEST_CASE("tips log: what is wrong is said with its line", "[rain]") {
    CHECK(take("time,count\n2031-05-04 10:11:12,3\n2031-05-04 10:1x:12,3\n").fault.find("log.csv:3") == 0);
    CHECK(take("time,count\n2031-05-04 10:11:12,-3\n").fault.find("log.csv:2") == 0);
    CHECK(take("time,count\n2031-02-30 10:11:12,3\n").fault.find("no time") != std::string::npos);
    CHECK(take("time,contact\n2031-05-04 10:11:12,3\n").fault.find("contact") != std::string::npos);
    CHECK(take("time,level\n2031-05-04 10:11:12,3\n").fault.find("--count-column") != std::string::npos);
    CHECK(take("").fault.find("no line") != std::string::npos);
    CHECK(take(std::string(5000, 'x')).fault.find("4000") != std::string::npos);
    CHECK(take("time,count\n2031-05-04 10:11:12\n").fault.find("too few") != std::string::npos);
    CHECK(take("time\n2031-05-04 10:11:1\n").fault.find("no time") != std::string::npos);
}
