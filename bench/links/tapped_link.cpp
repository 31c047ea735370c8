// Tapped link: passes everything on and shows it.
#include "bench/links/traffic.hpp"

namespace tipwright::bench {

namespace {

std::string text_of(std::span<const std::byte> bytes) {
    return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

class TappedLink final : public Link {
public:
    TappedLink(std::unique_ptr<Link> link, Clock& clock, TrafficWatcher see)
        : link_(std::move(link)), clock_(clock), see_(std::move(see)) {}

    std::string name() const override { return link_->name(); }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        Result<std::size_t> got = co_await link_->read_some(into);
        if (got) {
            see_({clock_.now_s(), TrafficWay::came, text_of(into.first(*got))});
        } else {
            see_({clock_.now_s(), TrafficWay::lost, got.fault().what});
        }
        co_return got;
    }

    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        see_({clock_.now_s(), TrafficWay::sent, text_of(bytes)});
        return link_->write(right, bytes);
    }

    void close() override { link_->close(); }
    bool can_reopen() const override { return link_->can_reopen(); }
    ModemLines* modem_lines() override { return link_->modem_lines(); }
    Task<Outcome> reopen() override { return link_->reopen(); }

private:
    std::unique_ptr<Link> link_;
    Clock& clock_;
    TrafficWatcher see_;
};

}  // namespace

std::unique_ptr<Link> tap_link(std::unique_ptr<Link> link, Clock& clock, TrafficWatcher see) {
    return std::make_unique<TappedLink>(std::move(link), clock, std::move(see));
}

}  // namespace tipwright::bench
