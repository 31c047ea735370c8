// Who is logged in, and for how long.
#include <catch2/catch.hpp>

#include "tests/page/hostile_desk.hpp"

using namespace tipwright;
using namespace tipwright::page;
using namespace tipwright::page::samples;

TEST_CASE("a wrong passphrase opens nothing, and not often", "[page]") {
    Room room;
    const Fields wrong{{"person", "A. Signatory"}, {"passphrase", "wrong"}, {"next", "//evil.example"}};
    for (std::size_t k = 0; k < Sessions::wrong_allowed; ++k)
        CHECK(room.ask("POST", "/log-in", wrong).status == 403);
    Fields right = wrong;
    right["passphrase"] = "right";
    CHECK(room.ask("POST", "/log-in", right).status == 429);

    Room other;
    const Response in = other.ask("POST", "/log-in", right);
    CHECK(in.status == 303);
    CHECK(header(in, "Location") == "/");
    const std::string cookie = header(in, "Set-Cookie");
    CHECK(cookie.find("HttpOnly") != std::string::npos);
    CHECK(cookie.find("SameSite=Strict") != std::string::npos);
    const std::string word = cookie.substr(8, cookie.find(';') - 8);
    const auto found = other.sessions.find(word, std::chrono::steady_clock::now());
    REQUIRE(found);
    CHECK(found->person == "A. Signatory");
    CHECK(found->logged_in);
}

TEST_CASE("a session ends when nobody asks, after a day, and when it is closed", "[page]") {
    REQUIRE(sodium_init() >= 0);
    Sessions sessions;
    const Sessions::Time start{std::chrono::hours(100)};
    const std::string one = sessions.open(signatory, start);
    CHECK(one.size() >= 32);
    CHECK(sessions.open(signatory, start) != one);
    CHECK_FALSE(sessions.find("", start));
    CHECK_FALSE(sessions.find("guessed", start));
    CHECK(sessions.find(one, start + Sessions::idle));
    CHECK(sessions.find(one, start + 2 * Sessions::idle));
    CHECK_FALSE(sessions.find(one, start + 4 * Sessions::idle));
    const std::string busy = sessions.open(signatory, start);
    auto now = start;
    for (; now < start + Sessions::longest; now += Sessions::idle) CHECK(sessions.find(busy, now));
    CHECK_FALSE(sessions.find(busy, now + std::chrono::minutes(1)));
    const std::string closed = sessions.open(signatory, start);
    sessions.close(closed);
    CHECK_FALSE(sessions.find(closed, start));
    for (std::size_t k = 0; k < 2 * Sessions::most; ++k)
        sessions.open(signatory, now + std::chrono::seconds(k));
    const std::string newest = sessions.open(signatory, now + std::chrono::minutes(5));
    CHECK(sessions.find(newest, now + std::chrono::minutes(5)));
}

TEST_CASE("the way back leads to this site alone", "[page]") {
    CHECK(path_within("/gauge-on?serial=a b&x=\r\nSet-Cookie:") == "/gauge-on?serial=a+b&x=++Set-Cookie:");
    for (const char* elsewhere : {"", "//evil.example", "http://evil.example", "/\\evil.example", "x"})
        CHECK(path_within(elsewhere) == "/");
}
