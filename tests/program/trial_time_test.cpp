#include <catch2/catch.hpp>

#include <cstdlib>

#include "bench/program/register/maker.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

TEST_CASE("on a trial's time only invented certificates are made") {
    program::CommonOptions common;
    common.templates = test::source_dir() + "/templates";
    const auto maker = program::CertificateMaker::load(common, {});
    REQUIRE(maker.ok());
    std::array<unsigned char, 32> seed{};
    const auto key = seal::SigningKey::from_seed(seed);
    report::IssueSheet sheet;
    sheet.as_left.emplace();
    sheet.as_left->invented = false;
    ::setenv("TIPWRIGHT_TRIAL_NOW", "2026-11-23T08:00:00Z", 1);
    const auto made = maker->documents(sheet, key);
    ::unsetenv("TIPWRIGHT_TRIAL_NOW");
    REQUIRE_FALSE(made.ok());
    CHECK(made.fault().code == FaultCode::not_permitted);
    CHECK(made.fault().where == "TIPWRIGHT_TRIAL_NOW");
}
