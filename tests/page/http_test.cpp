// What a request must be before any screen is asked.
#include <catch2/catch.hpp>

#include "bench/page/http/hub.hpp"
#include "bench/page/http/message.hpp"

using namespace tipwright::page;

TEST_CASE("a target is split and decoded, or refused", "[page]") {
    Request request;
    REQUIRE(take_target("/run/a%20b?x=1&y=%C3%A4+b", request));
    CHECK(request.path == "/run/a b");
    CHECK(request.query.at("x") == "1");
    CHECK(request.query.at("y") == "ä b");
    for (const char* bad :
         {"", "run", "http://elsewhere/", "/%", "/%4", "/%zz", "/%00", "/%ff", "/?x=%00", "*"})
        CHECK_FALSE(take_target(bad, request));
    std::string many = "/?";
    for (int i = 0; i < 100; ++i) many += "a" + std::to_string(i) + "=1&";
    CHECK_FALSE(take_target(many, request));
}

TEST_CASE("only the names it is served under are known hosts", "[page]") {
    const Names names{{"127.0.0.1:8640", "localhost:8640"}, false};
    Request request;
    request.has_host = true;
    request.host = "LOCALHOST:8640";
    CHECK(host_known(names, request));
    for (const char* other : {"", "localhost", "localhost:80", "evil.example:8640",
                              "localhost:8640.evil.example", "127.0.0.1:8640@evil.example"}) {
        request.host = other;
        CHECK_FALSE(host_known(names, request));
    }
    request.has_host = false;
    request.host = "localhost:8640";
    CHECK_FALSE(host_known(names, request));
}

TEST_CASE("a command comes from a page of this site", "[page]") {
    const Names names{{"localhost:8640"}, false};
    Request request;
    request.has_host = true;
    request.host = "localhost:8640";
    CHECK_FALSE(origin_known(names, request));
    request.fetch_site = "same-origin";
    CHECK(origin_known(names, request));
    for (const char* other : {"null", "http://evil.example", "https://localhost:8640",
                              "http://localhost:8641", "http://localhost:8640.evil.example"}) {
        request.origin = other;
        CHECK_FALSE(origin_known(names, request));
    }
    request.origin = "http://localhost:8640";
    CHECK(origin_known(names, request));
}

TEST_CASE("the language comes from cookie, then from the browser, else English", "[page]") {
    Request request;
    CHECK(language_of(request) == "en");
    request.accept_language = "pt-BR,pt;q=0.9,fr;q=0.8,en;q=0.7";
    CHECK(language_of(request) == "fr");
    request.cookies = cookies_of("a=b; language=es; language=de");
    CHECK(language_of(request) == "es");
    request.cookies = cookies_of("language=../../etc");
    CHECK(language_of(request) == "fr");
}

TEST_CASE("no answer lets script in from anywhere but this site", "[page]") {
    bool seen = false;
    for (const auto& [name, value] : safety_headers()) {
        if (name != "Content-Security-Policy") continue;
        seen = true;
        CHECK(value.find("default-src 'none'") != std::string::npos);
        CHECK(value.find("script-src 'self'") != std::string::npos);
        CHECK(value.find("unsafe") == std::string::npos);
    }
    CHECK(seen);
}

TEST_CASE("a listener that takes nothing is let go, and there are never too many", "[page]") {
    Hub hub;
    const auto slow = hub.listen("en");
    for (std::size_t i = 0; i <= Hub::most_waiting; ++i) hub.send("en", "x");
    CHECK(slow->overrun);
    CHECK(slow->waiting.size() == Hub::most_waiting);
    std::vector<std::shared_ptr<Listener>> held{slow};
    while (auto one = hub.listen("de")) held.push_back(one);
    CHECK(held.size() == Hub::most_listeners);
    held.clear();
    CHECK(hub.listen("de") != nullptr);
}
