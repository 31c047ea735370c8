// How much of what the balance shows is water. Where it is not known, too much is counted, never too little.
#include "bench/run/vessel_content.hpp"

#include <catch2/catch.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr double capacity_g = 2500;

}  // namespace

TEST_CASE("of a vessel whose empty weight is known everything beyond that is water") {
    VesselContent vessel(180, capacity_g);
    vessel.found(2495.1, 0);
    CHECK(vessel.water_g(2495.1) == Approx(2315.1));
    CHECK_FALSE(vessel.has_room(2495.1, 300));
    CHECK(vessel.has_room(2495.1, 100));
    // Half emptied is not empty.
    vessel.emptied(1200);
    CHECK(vessel.water_g(1200) == Approx(1020));
    // What clings to it is no water, what stands in it is.
    vessel.emptied(183);
    CHECK(vessel.water_g(183) == Approx(0).margin(1e-9));
    vessel.emptied(200);
    CHECK(vessel.water_g(200) == Approx(20));
}

TEST_CASE("of a vessel nobody knows all counts as water until it was emptied") {
    VesselContent vessel(std::nullopt, capacity_g);
    vessel.found(380, 0);
    CHECK(vessel.water_g(380) == Approx(380));
    CHECK_FALSE(vessel.has_room(2300, 300));
    // Lifted and put back as it was: what came in is in it still.
    CHECK_FALSE(vessel.has_lost_what_came(2300, 2300));
    CHECK(vessel.has_lost_what_came(2300, 400));
    vessel.emptied(400);
    // It cannot weigh more than it did when it was found.
    CHECK(vessel.water_g(400) == Approx(20));
    CHECK(vessel.empty_is_known());
    CHECK(vessel.is_off(0));
}

TEST_CASE("a balance that was tared with water in the vessel deceives nobody") {
    // It shows less than the empty vessel: that is not on it, or it was tared.
    VesselContent known(180, capacity_g);
    known.found(0, 0);
    CHECK(known.is_off(0));
    // Where the empty vessel shows nothing, what the run had collected before counts.
    for (const std::optional<double> empty : {std::optional<double>(0), std::optional<double>()}) {
        VesselContent tared(empty, capacity_g);
        tared.found(0.2, 1500);
        CHECK(tared.water_g(0.2) == Approx(1500));
        CHECK_FALSE(tared.has_room(0.2, 1100));
        // Once it was lifted and emptied, its own weight is what it shows then.
        CHECK(tared.has_lost_what_came(0.2, -1499));
        tared.emptied(-1499);
        CHECK(tared.water_g(-1499) == Approx(0).margin(1e-9));
    }
    // One that shows its own weight was emptied, whatever the journal says.
    VesselContent emptied(180, capacity_g);
    emptied.found(181, 1500);
    CHECK(emptied.water_g(181) == Approx(1));
}

TEST_CASE("a drain from which nothing comes is no proof that the vessel is empty") {
    VesselContent unknown(std::nullopt, capacity_g);
    unknown.found(2000, 0);
    CHECK_FALSE(unknown.has_run_out(2000, 2000));
    CHECK(unknown.has_run_out(2000, 190));
    VesselContent known(180, capacity_g);
    known.found(2000, 0);
    CHECK_FALSE(known.has_run_out(2000, 1500));
    CHECK(known.has_run_out(2000, 185));
    CHECK(known.has_run_out(180, 180));
}

TEST_CASE("what the empty vessel shows stands in the bench's description, or in that of its simulation") {
    const std::filesystem::path templates =
        std::filesystem::path(tipwright::test::source_dir()) / "templates";
    const auto simulated = load_bench("virtual-bench", templates);
    REQUIRE(simulated.ok());
    CHECK(simulated->vessel_empty_g == 180.0);
    const auto real = load_bench("serial-bench", templates);
    REQUIRE(real.ok());
    CHECK_FALSE(real->vessel_empty_g);
    DescriptionText text = real->text;
    text.text.replace(text.text.find("[vessel]\n"), 9, "[vessel]\nempty_g = 412.5\n");
    const auto said = parse_bench(text);
    REQUIRE(said.ok());
    CHECK(said->vessel_empty_g == 412.5);
    text.text.replace(text.text.find("412.5"), 5, "\"one\"");
    CHECK_FALSE(parse_bench(text).ok());
}
