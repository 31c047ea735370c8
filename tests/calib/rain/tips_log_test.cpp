#include "calib/rain/tips_log.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;
using namespace tipwright::calib;

namespace {

struct Taken {
    std::vector<LogEntry> entries;
    std::string fault;
    bool counts = false;
    bool two_contacts = false;
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
    out.two_contacts = reader.two_contacts();
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

// Moments by GNU date, as date -u -d "2031-05-04 22:11:12" +%s.
TEST_CASE("tips log: AM and PM, zones behind times, 24:00, date and clock apart", "[rain]") {
    LogFormat format;
    format.order = DateOrder::month_first;
    for (const auto& [line, expected] : {std::pair<const char*, double>{"5/4/2031 10:11:12 AM", moment},
                                         {"05/04/2031 10:11:12 PM", moment + 43200},
                                         {"2031-05-04 12:00:00 AM", 1935619200},
                                         {"2031-05-04 12:00 pm", 1935662400},
                                         {"2031-05-04 1:05 p.m.", 1935666300},
                                         {"2031-05-04 03:41:12 PM +05:30", moment},
                                         {"2031-05-04 10:11:12 UTC", moment},
                                         {"2031-05-04 10:11:12 GMT", moment},
                                         {"2031-05-04 9:11:12-01", moment},
                                         {"4.5.2031 10:11:12", moment},
                                         {"2031-05-04 24:00", 1935705600}}) {
        INFO(line);
        const Taken taken = take(std::string(line) + "\n", format);
        REQUIRE(taken.fault.empty());
        CHECK(taken.entries.at(0).time_s == expected);
    }
    const Taken apart = take("Date,Time,Tips\n2031-05-04,10:11:12,3\n2031-05-04,10:12:12,0\n");
    REQUIRE(apart.fault.empty());
    CHECK(apart.entries.at(0).time_s == moment);
    CHECK(apart.entries.at(1).count == 0);
    for (const auto& [line, said] : {std::pair<const char*, const char*>{"2031-05-04 13:05 PM", "1 to 12"},
                                     {"2031-05-04 00:05 AM", "1 to 12"},
                                     {"2031-05-04 10:11:12 CST", "several zones"},
                                     {"2031-05-04 10:11:12 +15:00", "several zones"},
                                     {"2031-05-04 24:00:01", "AM or PM"},
                                     {"04.05.31 10:11:12", "four digits"},
                                     {"2031-02-30 10:11:12", "no such day"},
                                     {"04-05-2031 10:11:12", "--dates"}}) {
        INFO(line);
        const std::string fault = take(std::string("time\n") + line + "\n").fault;
        CHECK(fault.find("log.csv:2: no time") == 0);
        CHECK(fault.find(said) != std::string::npos);
    }
}

TEST_CASE("tips log: a date alone is the whole day of a count, and no time of a tip", "[rain]") {
    LogFormat format;
    format.utc_offset_s = 3600;
    // The day 2031-05-04 of UTC+1 ends at 23:00 UTC.
    const Taken days = take("date,count\n2031-05-04,12\n2031-05-05,0\n2031-05-06,\n", format);
    REQUIRE(days.fault.empty());
    REQUIRE(days.entries.size() == 3);
    CHECK(days.entries[0].time_s == 1935702000);
    CHECK(days.entries[1].time_s - days.entries[0].time_s == 86400);
    CHECK(days.entries[2].count == -1);
    format.names_start = true;  // the feed adds the day
    CHECK(take("date,count\n2031-05-04,12\n", format).entries.at(0).time_s == 1935702000 - 86400);
    CHECK(take("date\n2031-05-04\n").fault.find("log.csv:2: a tip on a day, but at no time") == 0);
    CHECK(take("date,count\n2031-05-04,12\n2031-05-05 00:00,1\n").fault.find("log.csv:3: a time of day") ==
          0);
    CHECK(take("date,count\n4/5/2031,12\n").fault.find("--dates dmy") != std::string::npos);
    CHECK(take("date,count\n2031-13-05,12\n").fault.find("log.csv:2") == 0);
    CHECK(take("2031-02-30,12\n").fault.find("log.csv:1") == 0);
}

// Central Europe in 2031: summer time from March 30 to October 26, 01:00 UTC (the last Sundays).
TEST_CASE("tips log: a zone with summer time, its skipped hour and its hour passed twice", "[rain]") {
    LogFormat format;
    format.utc_offset_s = 3600;
    format.zone = {{-1e18, 3600}, {1932598800, 7200}, {1950742800, 3600}};
    CHECK(take("2031-05-04 12:11:12\n", format).entries.at(0).time_s == moment);
    CHECK(take("2031-01-04 12:00:00\n", format).entries.at(0).time_s == 1925290800);
    CHECK(take("2031-05-04T10:11:12Z\n", format).entries.at(0).time_s == moment);
    CHECK(take("time\n2031-03-30 01:59:59\n2031-03-30 02:30:00\n", format).fault.find("log.csv:3: no time") ==
          0);
    CHECK(take("time\n2031-03-30 01:59:59\n2031-03-30 03:00:00\n", format).entries.at(1).time_s ==
          1932598800);
    const std::string twice = take("time\n2031-10-26 02:30:00\n", format).fault;
    CHECK(twice.find("log.csv:2: no time") == 0);
    CHECK(twice.find("twice in autumn") != std::string::npos);
    CHECK(take("time\n2031-10-26 02:30:00+01:00\n", format).entries.at(0).time_s == 1950744600);
    // Counts go on by their step: 25 hours that day.
    std::string hours = "time,count\n";
    for (const char* hour : {"00", "01", "02", "02", "03"})
        hours += "2031-10-26 " + std::string(hour) + ":00:00,1\n";
    const Taken counted = take(hours, format);
    REQUIRE(counted.fault.empty());
    for (std::size_t i = 1; i < counted.entries.size(); ++i)
        CHECK(counted.entries[i].time_s - counted.entries[i - 1].time_s == 3600);
    // Days are 24 h of winter time.
    CHECK(take("date,count\n2031-05-04,12\n", format).entries.at(0).time_s == 1935702000);
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

TEST_CASE("tips log: a gauge has two contacts once a tip of the second is told", "[rain]") {
    CHECK_FALSE(take("time,contact\n2031-05-04 10:11:12,1\n2031-05-04 10:12:12,1\n").two_contacts);
    const Taken both = take("time,contact\n2031-05-04 10:11:12,1\n2031-05-04 10:11:12,2\n");
    CHECK(both.two_contacts);
    REQUIRE(both.entries.size() == 2);
    CHECK(both.entries[1].contact == 2);
    CHECK_FALSE(both.counts);
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
