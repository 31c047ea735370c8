// Writes which test runs, how it ended, how long it took and which mistakes it came by: a line each into the
// file that TIPWRIGHT_MUTANTS_TESTS names. Only the copies that tests/mutants.sh builds include it, in their
// main.cpp.
#pragma once

#include "tests/mutants/switch.hpp"

#include <catch2/catch.hpp>

#include <chrono>
#include <cstdio>
#include <cstring>
#include <string>

namespace tipwright::mutants {

class Listener : public Catch::TestEventListenerBase {
public:
    using TestEventListenerBase::TestEventListenerBase;

    void testRunStarting(const Catch::TestRunInfo& run) override {
        TestEventListenerBase::testRunStarting(run);
        if (const char* path = std::getenv("TIPWRIGHT_MUTANTS_TESTS")) file_ = std::fopen(path, "ae");
        // What is come by before any test is (constants are made then).
        write("0", "");
    }
    void testCaseStarting(const Catch::TestCaseInfo& test) override {
        TestEventListenerBase::testCaseStarting(test);
        if (file_ == nullptr) return;
        std::fprintf(file_, "begun\t%s\n", test.name.c_str());
        std::fflush(file_);
        if (unsigned char* reached = the_switch().reached) std::memset(reached, 0, numbers);
        began_ = std::chrono::steady_clock::now();
    }
    void testCaseEnded(const Catch::TestCaseStats& stats) override {
        TestEventListenerBase::testCaseEnded(stats);
        const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began_;
        write(stats.totals.assertions.failed != 0 ? "failed" : std::to_string(took.count()),
              stats.testInfo.name);
    }

private:
    void write(const std::string& outcome, const std::string& name) {
        if (file_ == nullptr) return;
        std::fprintf(file_, "%s\t%s\t", outcome.c_str(), name.c_str());
        if (const unsigned char* reached = the_switch().reached)
            for (int number = 0; number < numbers; ++number)
                if (reached[number] != 0) std::fprintf(file_, "%d ", number);
        std::fputc('\n', file_);
        std::fflush(file_);
    }

    std::FILE* file_ = nullptr;
    std::chrono::steady_clock::time_point began_;
};

CATCH_REGISTER_LISTENER(Listener)

}  // namespace tipwright::mutants
