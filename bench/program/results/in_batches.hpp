// InBatches: things taken one by one are worked on by another thread, a batch at a time and in order, while
// the next ones are made ready. One thread gives them; a fault of a batch is told at a later one, or at the
// end.
#pragma once

#include <cstddef>
#include <functional>
#include <future>
#include <utility>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::program {

template <class Thing>
class InBatches {
public:
    using Work = std::function<Outcome(const std::vector<Thing>&)>;
    explicit InBatches(Work work) : work_(std::move(work)) {}
    ~InBatches() {
        if (working_.valid()) working_.wait();
    }
    InBatches(const InBatches&) = delete;
    InBatches& operator=(const InBatches&) = delete;

    Outcome take(const Thing& one) {
        taken_.push_back(one);
        return taken_.size() < at_once ? Outcome(Done{}) : hand_over();
    }
    // Until all that was taken is done.
    Outcome finish() {
        if (auto done = hand_over(); !done) return done;
        return last();
    }

private:
    static constexpr std::size_t at_once = 8192;

    Outcome last() {
        if (working_.valid()) done_ = working_.get();
        return done_;
    }
    Outcome hand_over() {
        if (auto done = last(); !done) return done;
        in_work_.swap(taken_);
        taken_.clear();
        if (!in_work_.empty()) working_ = std::async(std::launch::async, [this] { return work_(in_work_); });
        return Done{};
    }

    Work work_;
    std::vector<Thing> taken_, in_work_;
    std::future<Outcome> working_;
    Outcome done_ = Done{};  // a fault stays: nothing is worked on after it
};

}  // namespace tipwright::program
