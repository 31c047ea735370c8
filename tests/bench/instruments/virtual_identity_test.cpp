#include <catch2/catch.hpp>
#include <vector>

#include "bench/instruments/virtual_identity.hpp"

using namespace tipwright::bench;

TEST_CASE("instruments that say they are virtual are no real bench, whatever family they speak") {
    const auto said = [](std::vector<std::string> remarks) { return said_to_be_virtual(remarks); };
    CHECK(said({"The pump says it is \"virtual-pump 1\"."}));
    CHECK(said({"The program stood still.", "The balance says it is \"virtual,virtual-balance 1,0,1\"."}));
    CHECK_FALSE(said({}));
    CHECK_FALSE(said({"The pump says it is \"PUMP 7, serial 4711\"."}));
    CHECK_FALSE(said({"The operator was told of a virtual-pump."}));
}
