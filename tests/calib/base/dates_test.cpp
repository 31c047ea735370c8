#include "calib/base/dates.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;

TEST_CASE("a date is year, month and day as ISO 8601 has them, on a day there was or will be") {
    const auto date = iso_date("2031-05-04");
    REQUIRE(date);
    CHECK(int(date->year()) == 2031);
    CHECK(unsigned(date->month()) == 5);
    CHECK(unsigned(date->day()) == 4);
    for (const char* good : {"1900-01-01", "2999-12-31", "2028-02-29", "2000-02-29"}) {
        INFO(good);
        CHECK(is_iso_date(good));
    }
    for (const char* bad :
         {"1899-12-31", "3000-01-01", "2027-02-29", "2100-02-29", "2031-00-04", "2031-13-04", "2031-05-00",
          "2031-05-32", "2031-04-31", "2031-5-04", "2031/05/04", "2031-05-4 ", "20310504", "", "2031-05-041",
          "2031-05-0a", "2031-05_04", "2031 05-04"}) {
        INFO(bad);
        CHECK_FALSE(is_iso_date(bad));
    }
}

TEST_CASE("a moment in UTC is text and back, on a day there was or will be") {
    using namespace std::chrono;
    const auto moment = utc_moment("2031-05-04T10:11:12Z");
    REQUIRE(moment);
    CHECK(*moment == sys_days(2031y / May / 4) + 10h + 11min + 12s);
    CHECK(utc_moment("1970-01-01T00:00:00Z")->time_since_epoch().count() == 0);
    CHECK(iso_text(2031y / May / 4) == "2031-05-04");
    for (const char* good :
         {"1900-01-01T00:00:00Z", "1969-12-31T23:59:59Z", "2028-02-29T12:00:00Z", "2999-12-31T23:59:59Z"}) {
        INFO(good);
        REQUIRE(utc_moment(good));
        CHECK(utc_text(*utc_moment(good)) == good);
    }
    for (const char* bad :
         {"2031-02-31T10:11:12Z", "2031-05-04T24:00:00Z", "2031-05-04T10:60:00Z", "2031-05-04T10:11:60Z",
          "2031-05-04T10:11:12", "2031-05-04T10:11:12+", "2031-05-04 10:11:12Z", "2031-05-04T1a:11:12Z",
          "2031-05-04T10-11-12Z", "2031-05-04T10:11:12ZZ", "2031-05-04T10:11: 2Z", "2031-05-04T-1:11:12Z",
          "2031-05-04", ""}) {
        INFO(bad);
        CHECK_FALSE(utc_moment(bad));
    }
}
