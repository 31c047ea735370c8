// Every family there is, by the profiles that are shipped: what one forgets is told here, whichever comes
// next.
#include <catch2/catch.hpp>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <set>

#include "bench/instruments/interpret.hpp"
#include "bench/instruments/make.hpp"
#include "bench/instruments/stop_messages.hpp"
#include "tests/support/shipped_devices.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr Role all_roles[] = {Role::pump, Role::balance, Role::counter, Role::climate};

// A line that never carries a byte; the inputs of a port beside it.
class DeadLink final : public Link {
public:
    explicit DeadLink(ModemLines& lines) : lines_(lines) {}
    std::string name() const override { return "dead"; }
    Task<Result<std::size_t>> read_some(std::span<std::byte>) override {
        co_return Fault{FaultCode::link_lost, "has no bytes", "dead", ""};
    }
    Task<Outcome> write(SendRight, std::span<const std::byte>) override { co_return Done{}; }
    void close() override {}
    ModemLines* modem_lines() override { return &lines_; }

private:
    ModemLines& lines_;
};

// Null, or why there is none.
template <class Made>
std::string why_not(const Result<Made>& made) {
    return made ? "" : made.fault().line();
}

std::string made_as(Role role, const InstrumentProfile& profile) {
    boost::asio::io_context context(1);
    const auto clock = make_lockstep_clock(context);
    test::WiredInputs inputs;
    auto link = std::make_unique<DeadLink>(inputs);
    switch (role) {
        case Role::pump:
            return why_not(make_pump(profile, std::move(link), *clock, context));
        case Role::balance:
            return why_not(make_balance(profile, std::move(link), *clock, context));
        case Role::counter:
            return why_not(make_tip_counter(profile, std::move(link), *clock, context));
        case Role::climate:
            return why_not(make_climate_sensor(profile, std::move(link), *clock, context));
    }
    return "no such role";
}

const FamilyEntry& family_of(const InstrumentProfile& profile) {
    const std::size_t at = profile.text.text.find("family = \"");
    const std::string_view rest = std::string_view(profile.text.text).substr(at + 10);
    const auto found = std::find_if(families().begin(), families().end(), [&](const FamilyEntry* one) {
        return one->name == rest.substr(0, rest.find('"'));
    });
    REQUIRE(found != families().end());
    return **found;
}

}  // namespace

TEST_CASE("instruments of every family are what their profile says, and nothing else") {
    std::set<std::pair<std::string, Role>> seen;
    for (const InstrumentProfile& profile : test::shipped_profiles()) {
        CAPTURE(profile.title);
        const FamilyEntry& family = family_of(profile);
        seen.emplace(family.name, profile.role);
        for (const Role role : all_roles) {
            CAPTURE(name_of(role));
            CHECK((made_as(role, profile).empty()) == (role == profile.role));
        }
        CHECK(stop_messages(profile).messages.empty() == (profile.role != Role::pump));
        CHECK((profile.family->as_pump() != nullptr) ==
              (std::find(family.roles.begin(), family.roles.end(), Role::pump) != family.roles.end()));
        // The inputs of a port carry no bytes to be read.
        CHECK((make_interpreter(profile) == nullptr) == (family.name == "modem-inputs"));
    }
    for (const FamilyEntry* family : families())
        for (const Role role : family->roles) {
            INFO("no profile is shipped of a " << name_of(role) << " of the family " << family->name);
            CHECK(seen.contains({std::string(family->name), role}));
        }
}

TEST_CASE("a family that has no instrument of a role says so, whatever the profile claims") {
    for (InstrumentProfile profile : test::shipped_profiles()) {
        CAPTURE(profile.title);
        const FamilyEntry& family = family_of(profile);
        for (const Role role : all_roles) {
            if (std::find(family.roles.begin(), family.roles.end(), role) != family.roles.end()) continue;
            profile.role = role;
            CHECK(made_as(role, profile).find("no instrument of its family is a ") != std::string::npos);
            CHECK(stop_messages(profile).messages.empty());
        }
    }
}
