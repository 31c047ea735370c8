#include "bench/program/results/in_batches.hpp"

#include <catch2/catch.hpp>
#include <new>
#include <numeric>

using namespace tipwright;
using namespace tipwright::program;

TEST_CASE("in batches: everything once and in order, the rest at the end", "[rain]") {
    std::vector<int> seen;
    std::size_t batches = 0;
    InBatches<int> numbers([&](const std::vector<int>& batch) -> Outcome {
        ++batches;
        seen.insert(seen.end(), batch.begin(), batch.end());
        return Done{};
    });
    constexpr int count = 50001;
    for (int i = 0; i < count; ++i) REQUIRE(numbers.take(i));
    REQUIRE(numbers.finish());
    REQUIRE(numbers.finish());
    std::vector<int> expected(count);
    std::iota(expected.begin(), expected.end(), 0);
    CHECK(seen == expected);
    CHECK(batches > 1);
    CHECK(batches < 100);
}

TEST_CASE("in batches: the first fault is told, and nothing is worked on after it", "[rain]") {
    int last = 0;
    InBatches<int> numbers([&](const std::vector<int>& batch) -> Outcome {
        for (const int one : batch) {
            last = one;
            if (one % 20000 == 19999)
                return Fault{FaultCode::bad_value, "number " + std::to_string(one), "", ""};
        }
        return Done{};
    });
    Outcome done = Done{};
    for (int i = 0; i < 100000 && done; ++i) done = numbers.take(i);
    REQUIRE_FALSE(done);
    CHECK(done.fault().what == "number 19999");
    done = numbers.finish();
    REQUIRE_FALSE(done);
    CHECK(done.fault().what == "number 19999");
    CHECK(last == 19999);
}

TEST_CASE("in batches: what the work throws, as for want of memory, reaches whoever gives", "[rain]") {
    InBatches<int> numbers([&](const std::vector<int>&) -> Outcome { throw std::bad_alloc(); });
    const auto give_all = [&] {
        for (int i = 0; i < 100000; ++i)
            if (!numbers.take(i)) break;
        static_cast<void>(numbers.finish());
    };
    CHECK_THROWS_AS(give_all(), std::bad_alloc);
}
