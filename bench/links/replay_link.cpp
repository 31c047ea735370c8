// Replay link: a recording in the place of an instrument.
#include <algorithm>
#include <cstring>
#include <limits>

#include "bench/links/traffic.hpp"

namespace tipwright::bench {

namespace {

class ReplayLink final : public Link {
public:
    ReplayLink(Traffic traffic, Clock& clock, std::string name, double speed)
        : entries_(std::move(traffic.entries)),
          clock_(clock),
          name_(std::move(name)),
          speed_(speed),
          due_s_(clock.now_s() + (entries_.empty() ? 0 : entries_.front().time_s / speed)),
          changed_(clock.make_alarm()) {}

    std::string name() const override { return name_; }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        while (true) {
            if (closed_ || failure_) co_return lost();
            if (next_ == entries_.size()) co_return ended("the recording ends here");
            const TrafficEntry& entry = entries_[next_];
            if (entry.way == TrafficWay::sent) {
                co_await changed_->wait_until(std::numeric_limits<double>::infinity());
                continue;
            }
            if (clock_.now_s() < due_s_) {
                co_await changed_->wait_until(due_s_);
                continue;
            }
            if (entry.way == TrafficWay::lost) co_return ended(entry.bytes);
            const std::size_t count = std::min(into.size(), entry.bytes.size() - taken_);
            std::memcpy(into.data(), entry.bytes.data() + taken_, count);
            taken_ += count;
            if (taken_ == entry.bytes.size()) {
                go_on();
                compare();
            }
            co_return count;
        }
    }

    // What is sent early, before what came ahead of it was read, waits for its turn in the comparison.
    Task<Outcome> write(SendRight, std::span<const std::byte> bytes) override {
        if (closed_ || failure_) co_return lost();
        written_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        compare();
        if (failure_) co_return *failure_;
        co_return Done{};
    }

    void close() override {
        closed_ = true;
        changed_->ring();
    }

private:
    void compare() {
        while (!failure_ && next_ < entries_.size() && entries_[next_].way == TrafficWay::sent &&
               !written_.empty()) {
            const std::string_view wanted = std::string_view(entries_[next_].bytes).substr(taken_);
            const std::size_t count = std::min(wanted.size(), written_.size());
            if (wanted.substr(0, count) != std::string_view(written_).substr(0, count)) {
                failure_ =
                    Fault{FaultCode::link_lost,
                          "was sent " + in_quotes(written_) + " where the recording has " + in_quotes(wanted),
                          name_, "record a session with this profile"};
                changed_->ring();
                return;
            }
            written_.erase(0, count);
            taken_ += count;
            if (taken_ == entries_[next_].bytes.size()) go_on();
        }
        changed_->ring();
    }

    void go_on() {
        const double before_s = entries_[next_].time_s;
        ++next_;
        taken_ = 0;
        if (next_ == entries_.size()) return;
        due_s_ = clock_.now_s() + (entries_[next_].time_s - before_s) / speed_;
    }

    Fault ended(std::string why) {
        failure_ = Fault{FaultCode::link_lost, std::move(why), name_, ""};
        return *failure_;
    }
    Fault lost() const {
        return failure_ ? *failure_ : Fault{FaultCode::link_lost, "the link is closed", name_, ""};
    }

    std::vector<TrafficEntry> entries_;
    Clock& clock_;
    std::string name_;
    double speed_;
    std::size_t next_ = 0;
    std::size_t taken_ = 0;  // bytes of entries_[next_] that are done with
    double due_s_;
    std::string written_;
    std::unique_ptr<Alarm> changed_;
    std::optional<Fault> failure_;
    bool closed_ = false;
};

}  // namespace

std::unique_ptr<Link> replay_link(Traffic traffic, Clock& clock, std::string name, double speed) {
    return std::make_unique<ReplayLink>(std::move(traffic), clock, std::move(name), speed);
}

}  // namespace tipwright::bench
