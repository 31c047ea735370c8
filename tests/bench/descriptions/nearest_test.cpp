#include "bench/descriptions/nearest.hpp"

#include <catch2/catch.hpp>

using namespace tipwright::bench;

TEST_CASE("the nearest name is told, and nothing that is not near") {
    const std::vector<std::string> names{"calibrate", "certify", "certificate", "compare", "complete"};
    CHECK(nearest("calibrat", names) == "calibrate");
    CHECK(nearest("clibarte", names) == "calibrate");
    CHECK(nearest("certfy", names) == "certify");
    CHECK(nearest("compere", names) == "compare");
    CHECK(nearest("cert", names) == "certify");
    CHECK(nearest("x", names).empty());
    CHECK(nearest("run", {"rain"}).empty());
    CHECK(nearest("water", names).empty());
    CHECK(nearest("", {}).empty());
}
