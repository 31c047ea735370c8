// A child that the page begins: not without the place for its messages, nor without what it is handed.
#include <sys/resource.h>

#include <catch2/catch.hpp>

#include "bench/program/page/begin_run.hpp"

using namespace tipwright;
using namespace tipwright::program;

namespace {

// The limit of this process's descriptors, until it ends.
class FewDescriptors {
public:
    explicit FewDescriptors(rlim_t most) {
        REQUIRE(::getrlimit(RLIMIT_NOFILE, &before_) == 0);
        const rlimit few{most, before_.rlim_max};
        REQUIRE(::setrlimit(RLIMIT_NOFILE, &few) == 0);
    }
    ~FewDescriptors() { ::setrlimit(RLIMIT_NOFILE, &before_); }
    FewDescriptors(const FewDescriptors&) = delete;
    FewDescriptors& operator=(const FewDescriptors&) = delete;

private:
    rlimit before_{};
};

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
        const FewDescriptors few(most);
        auto child = Child::begin(words, {}, secrets);
        if (child) child->wait();
        REQUIRE_FALSE(child);
        CHECK(child.fault().code == FaultCode::not_permitted);
        CHECK(child.fault().what.starts_with("no program can be started: "));
    }
}
