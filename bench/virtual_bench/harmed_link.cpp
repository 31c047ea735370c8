#include "bench/virtual_bench/harmed_link.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

namespace tipwright::bench {

namespace {

constexpr int longest_burst = 32;

class HarmedLink final : public Link {
public:
    HarmedLink(std::unique_ptr<Link> link, Clock& clock, LinkFaults faults, Random dice)
        : link_(std::move(link)), clock_(clock), faults_(std::move(faults)), dice_(dice) {}

    std::string name() const override { return link_->name(); }
    void close() override { link_->close(); }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        while (unread_.empty()) {
            const Result<std::size_t> got = co_await link_->read_some(into);
            if (!got || !active()) co_return got;
            unread_ = harmed(into.first(*got));
        }
        const std::size_t count = std::min(into.size(), unread_.size());
        std::copy_n(unread_.begin(), count, into.begin());
        unread_.erase(unread_.begin(), unread_.begin() + static_cast<std::ptrdiff_t>(count));
        co_return count;
    }

    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        if (!active()) co_return co_await link_->write(right, bytes);
        const std::vector<std::byte> changed = harmed(bytes);
        if (faults_.delay_s > 0) co_await clock_.sleep_for(faults_.delay_s);
        if (changed.empty()) co_return Done{};
        co_return co_await link_->write(right, changed);
    }

private:
    bool active() const {
        const double now_s = clock_.now_s();
        return now_s >= faults_.from_s && now_s < faults_.until_s;
    }

    std::vector<std::byte> harmed(std::span<const std::byte> bytes) {
        std::vector<std::byte> result;
        for (std::byte byte : bytes) {
            if (dice_.happens(faults_.burst_probability)) {
                for (int left = 1 + dice_.below(longest_burst); left > 0; --left) {
                    result.push_back(static_cast<std::byte>(dice_.below(256)));
                }
            }
            if (dice_.happens(faults_.loss_probability)) continue;
            if (dice_.happens(faults_.flip_probability)) byte ^= static_cast<std::byte>(1 << dice_.below(8));
            result.push_back(byte);
            if (dice_.happens(faults_.repeat_probability)) result.push_back(byte);
        }
        return result;
    }

    std::unique_ptr<Link> link_;
    Clock& clock_;
    LinkFaults faults_;
    Random dice_;
    std::vector<std::byte> unread_;
};

}  // namespace

std::unique_ptr<Link> make_harmed_link(std::unique_ptr<Link> link, Clock& clock, const LinkFaults& faults,
                                       Random dice) {
    return std::make_unique<HarmedLink>(std::move(link), clock, faults, dice);
}

}  // namespace tipwright::bench
