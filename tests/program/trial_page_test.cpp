#include <catch2/catch.hpp>

#include <atomic>
#include <chrono>
#include <mutex>
#include <thread>

#include "bench/program/page/trial.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

// The trial begins the program that runs, which here is the tests': it knows no command and ends at once.
TEST_CASE("a trial whose register cannot be filled says which command failed, and why") {
    program::CommonOptions common;
    common.templates = test::source_dir() + "/templates";
    std::mutex mutex;
    std::vector<Fault> told;
    auto trial = program::Trial::begin(common, [&](const Fault& fault) {
        const std::lock_guard lock(mutex);
        told.push_back(fault);
    });
    REQUIRE(trial.ok());
    program::DeskOptions desk;
    trial->choose(desk);
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(60);
    while (*desk.filling && std::chrono::steady_clock::now() < until)
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
    REQUIRE_FALSE(*desk.filling);
    const std::lock_guard lock(mutex);
    REQUIRE(told.size() == 1);
    CHECK(told.front().line() ==
          "the trial's register is not filled: register create: it ended without a message");
}
