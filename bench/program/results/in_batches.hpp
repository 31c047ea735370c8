// InBatches: things taken one by one are worked on by another thread, a batch at a time and in order, while
// the next ones are made ready. One thread gives them; a fault of a batch is told at a later one, or at the
// end. What is destroyed before its end leaves the batches that wait undone.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <exception>
#include <functional>
#include <mutex>
#include <thread>
#include <utility>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::program {

template <class Thing>
class InBatches {
public:
    using Work = std::function<Outcome(const std::vector<Thing>&)>;
    explicit InBatches(Work work) : work_(std::move(work)) {}
    ~InBatches() { end(); }
    InBatches(const InBatches&) = delete;
    InBatches& operator=(const InBatches&) = delete;

    Outcome take(const Thing& one) {
        taken_.push_back(one);
        return taken_.size() < at_once ? Outcome(Done{}) : hand_over();
    }
    // Until all that was taken is done.
    Outcome finish() {
        if (!taken_.empty())
            if (auto done = hand_over(); !done) return done;
        std::unique_lock lock(mutex_);
        changed_.wait(lock, [this] { return waiting_.empty() && !working_; });
        return told();
    }

private:
    static constexpr std::size_t at_once = 4096;
    // Some wait ready, so that neither thread stands still for the other's waking up.
    static constexpr std::size_t ahead = 4;

    Outcome hand_over() {
        std::unique_lock lock(mutex_);
        if (!worker_.joinable()) worker_ = std::thread([this] { run(); });
        changed_.wait(lock, [this] { return waiting_.size() < ahead; });
        waiting_.push_back(std::move(taken_));
        taken_ = {};
        if (!used_.empty()) {  // its memory
            taken_ = std::move(used_.back());
            used_.pop_back();
        }
        changed_.notify_all();
        return told();
    }
    Outcome told() const {
        if (thrown_) std::rethrow_exception(thrown_);
        return done_;
    }
    void run() {
        std::unique_lock lock(mutex_);
        while (true) {
            changed_.wait(lock, [this] { return ended_ || !waiting_.empty(); });
            if (ended_) return;
            std::vector<Thing> batch = std::move(waiting_.front());
            waiting_.pop_front();
            if (done_ && !thrown_) {  // nothing is worked on after a fault
                working_ = true;
                lock.unlock();
                Outcome done = Done{};
                std::exception_ptr thrown;
                try {
                    done = work_(batch);
                } catch (...) {  // want of memory: the giving thread's to tell
                    thrown = std::current_exception();
                }
                lock.lock();
                working_ = false;
                done_ = done;
                thrown_ = thrown;
            }
            batch.clear();
            used_.push_back(std::move(batch));
            changed_.notify_all();
        }
    }
    void end() {
        {
            const std::lock_guard lock(mutex_);
            ended_ = true;
        }
        changed_.notify_all();
        if (worker_.joinable()) worker_.join();
    }

    Work work_;
    std::vector<Thing> taken_;  // the giving thread's alone
    std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<std::vector<Thing>> waiting_;
    std::vector<std::vector<Thing>> used_;
    bool working_ = false;
    bool ended_ = false;
    Outcome done_ = Done{};
    std::exception_ptr thrown_;
    std::thread worker_;
};

}  // namespace tipwright::program
