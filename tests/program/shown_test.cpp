#include <catch2/catch.hpp>

#include <cstdlib>
#include <ctime>

#include "bench/program/shown.hpp"

using namespace tipwright;

TEST_CASE("a moment is shown in the zone that was chosen, and as it stands where there was no such moment") {
    REQUIRE(program::show_as({"+01:00", ""}));
    CHECK(program::shown_moment("2031-02-28T23:30:00Z") == "2031-03-01 00:30:00 UTC+01:00");
    for (const char* none : {"2031-02-31T10:00:00Z", "2031-13-01T10:00:00Z", "2031-02-28T24:00:00Z",
                             "2031-02-28T10:00:60Z", "2031-2-28T10:00:00Z", "2031-02-28 10:00:00", ""}) {
        CAPTURE(none);
        CHECK(program::shown_moment(none) == none);
    }
    REQUIRE(program::show_as({}));
    CHECK(program::shown_moment("2031-02-28T23:30:00Z") == "2031-02-28T23:30:00Z");
    ::unsetenv("TZ");
    ::tzset();
}
