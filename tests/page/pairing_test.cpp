// Which devices may see the page over a network, and by which certificate it is known.
#include <sodium.h>

#include <catch2/catch.hpp>

#include "bench/page/desk/pairing.hpp"
#include "bench/page/http/identity.hpp"
#include "bench/page/http/tls.hpp"

using namespace tipwright;
using namespace tipwright::page;

namespace {

const Pairing::Time paired_at{std::chrono::hours(100)};

struct Door {
    std::vector<PairedDevice> kept;
    std::optional<Fault> full;
    std::vector<std::string> codes;
    Pairing pairing;
    explicit Door(std::vector<PairedDevice> known = {})
        : pairing(
              std::move(known),
              [this](const std::vector<PairedDevice>& devices) {
                  if (full) return Outcome(*full);
                  kept = devices;
                  return Outcome(Done{});
              },
              [this](const PairedDevice&, const std::string& code) { codes.push_back(code); }) {}
    Pairing::Tried pair(const std::string& code, Pairing::Time now = paired_at,
                        const std::string& from = "192.0.2.7") {
        const auto tried = pairing.pair(code, "tablet", from, "2031-05-04T10:11:12Z", now);
        REQUIRE(tried.ok());
        return *tried;
    }
};

std::string small(std::string text) {
    for (char& c : text)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return text;
}

}  // namespace

TEST_CASE("a code pairs one device, which is known by its word alone", "[page]") {
    REQUIRE(sodium_init() >= 0);
    Door door;
    const std::string code = door.pairing.code();
    CHECK(code.size() == 9);
    CHECK(door.pair("").answer == Pairing::Answer::wrong);
    CHECK(door.pair(code + "0").answer == Pairing::Answer::wrong);
    const Pairing::Tried tried = door.pair(" " + small(code));
    REQUIRE(tried.answer == Pairing::Answer::paired);
    CHECK(door.pairing.device_of(tried.word) == std::optional<std::string>("tablet"));
    CHECK_FALSE(door.pairing.device_of(""));
    CHECK_FALSE(door.pairing.device_of(tried.word + "x"));
    // The same code again pairs nobody.
    CHECK(door.pairing.code() != code);
    CHECK(door.codes == std::vector<std::string>{door.pairing.code()});
    CHECK(door.pair(code).answer == Pairing::Answer::wrong);
    // What is kept knows the device after a new start, and does not hold its word.
    REQUIRE(door.kept.size() == 1);
    const std::string text = devices_text(door.kept);
    CHECK(text.find(tried.word) == std::string::npos);
    const auto read = read_devices(text, "list");
    REQUIRE(read.ok());
    CHECK(Door(*read).pairing.device_of(tried.word) == std::optional<std::string>("tablet"));
}

TEST_CASE("codes are not tried often, from one address or from many", "[page]") {
    REQUIRE(sodium_init() >= 0);
    Door door;
    for (std::size_t k = 0; k < Pairing::wrong_allowed; ++k)
        CHECK(door.pair("wrong").answer == Pairing::Answer::wrong);
    CHECK(door.pair(door.pairing.code()).answer == Pairing::Answer::wait);
    CHECK(door.pair("wrong", paired_at, "192.0.2.8").answer == Pairing::Answer::wrong);
    std::size_t wrong = Pairing::wrong_allowed + 1;
    for (std::size_t k = 0; k < 10 * Pairing::wrong_allowed_together; ++k)
        wrong +=
            door.pair("wrong", paired_at, "2001:db8::" + std::to_string(k)).answer == Pairing::Answer::wrong;
    CHECK(wrong == Pairing::wrong_allowed_together);
    CHECK(door.pair(door.pairing.code(), paired_at, "192.0.2.9").answer == Pairing::Answer::wait);
    CHECK(
        door.pair(door.pairing.code(), paired_at + Pairing::wrong_within + std::chrono::minutes(1)).answer ==
        Pairing::Answer::paired);
}

TEST_CASE("a device that cannot be kept is not paired", "[page]") {
    REQUIRE(sodium_init() >= 0);
    Door door;
    door.full = Fault{FaultCode::disk_full, "no room", "", ""};
    const std::string code = door.pairing.code();
    CHECK_FALSE(door.pairing.pair(code, "x", "192.0.2.7", "", paired_at).ok());
    door.full.reset();
    CHECK(door.pairing.code() == code);
    CHECK(door.pair(code).answer == Pairing::Answer::paired);
    for (const char* bad :
         {"", "{}", "[]", "{\"version\":2,\"devices\":[]}", "{\"version\":1,\"devices\":[1]}",
          "{\"version\":1,\"devices\":[{\"name\":\"a\",\"paired_at\":\"b\",\"digest\":\"c\"}]}"})
        CHECK_FALSE(read_devices(bad, "list").ok());
}

TEST_CASE("a certificate made here fits its key, its names and its time, and no other", "[page]") {
    const auto made = make_identity({"192.0.2.7", "2001:db8::1", "bench", "evil,DNS:other"}, "2031-05-04");
    REQUIRE(made.ok());
    CHECK(check_identity(*made, "2031-05-03", "file").ok());
    CHECK(check_identity(*made, "2033-07-01", "file").ok());
    CHECK_FALSE(check_identity(*made, "2031-05-02", "file").ok());
    CHECK_FALSE(check_identity(*made, "2033-08-01", "file").ok());
    CHECK(tls_of(*made).ok());
    const auto other = make_identity({"bench"}, "2031-05-04");
    REQUIRE(other.ok());
    const Identity mixed{made->certificate_pem, other->key_pem};
    const Outcome refused = check_identity(mixed, "2031-05-04", "file");
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.fault().code == FaultCode::inconsistent);
    CHECK_FALSE(tls_of(mixed).ok());
    CHECK(check_identity({made->certificate_pem, ""}, "2031-05-04", "file").fault().code ==
          FaultCode::damaged);
    CHECK_FALSE(tls_of({"", ""}).ok());
    const auto fingerprint = fingerprint_of(*made);
    REQUIRE(fingerprint.ok());
    CHECK(fingerprint->size() == 95);
    CHECK(*fingerprint != *fingerprint_of(*other));
    CHECK_FALSE(make_identity({}, "2031-05-04").ok());
}
