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
