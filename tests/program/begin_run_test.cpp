// A child that the page begins: not without the place for its messages, nor without what it is handed.
#include <sys/resource.h>

#include <catch2/catch.hpp>

#include "bench/program/page/begin_run.hpp"

using namespace tipwright;
using namespace tipwright::program;

namespace {

// Begins a child while this process may have so many descriptors; nothing else is done meanwhile, for a
// sanitizer wants some of its own.
Result<Child> begin_with(rlim_t most, const std::vector<std::string>& words,
                         const std::vector<std::string>& secrets) {
    rlimit before{};
    REQUIRE(::getrlimit(RLIMIT_NOFILE, &before) == 0);
    const rlimit few{most, before.rlim_max};
    const int limited = ::setrlimit(RLIMIT_NOFILE, &few);
    Result<Child> child = Child::begin(words, {}, secrets);
    ::setrlimit(RLIMIT_NOFILE, &before);
    REQUIRE(limited == 0);
    return child;
}

}  // namespace

TEST_CASE("a run is not begun where there is no place for what it says, or no way to hand it a passphrase") {
    const std::vector<std::string> words{"--help"};  // this very program's
    {
        auto child = Child::begin(words, {}, {"passphrase"});
        REQUIRE(child);
        child->wait();
        CHECK(child->outcome());
        CHECK_FALSE(child->said().empty());
    }
    // None at all; enough for its messages, yet not for a pipe that is out of the child's way.
    for (const auto& [most, secrets] :
         {std::pair<rlim_t, std::vector<std::string>>{0, {}}, {60, {"passphrase"}}}) {
        CAPTURE(most);
        auto child = begin_with(most, words, secrets);
        if (child) child->wait();
        REQUIRE_FALSE(child);
        CHECK(child.fault().code == FaultCode::not_permitted);
        CHECK(child.fault().what.starts_with("no program can be started: "));
    }
}
