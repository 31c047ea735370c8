// A profile out of the templates as they are shipped, for the tests of what speaks with instruments.
#pragma once

#include <string>

#include <catch2/catch.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "tests/support/paths.hpp"

namespace tipwright::test {

using namespace bench;

inline InstrumentProfile shipped(const std::string& name) {
    Result<InstrumentProfile> profile = load_profile(name, tipwright::test::source_dir() + "/templates");
    INFO((profile ? "" : profile.fault().line()));
    REQUIRE(profile.ok());
    return *profile;
}

}  // namespace tipwright::test
