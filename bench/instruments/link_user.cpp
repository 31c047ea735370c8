#include "bench/instruments/link_user.hpp"

#include <array>
#include <cstring>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

namespace tipwright::bench {

namespace {

// No frame of any family is longer than a fraction of this.
constexpr std::size_t buffer_size = 4096;

}  // namespace

void LinkUser::start_reading(boost::asio::io_context& context) {
    boost::asio::co_spawn(context, read_until_lost(shared_from_this()), boost::asio::detached);
}

Task<void> LinkUser::read_until_lost(std::shared_ptr<LinkUser> self) {
    std::vector<std::byte> buffer(buffer_size);
    std::size_t filled = 0;
    while (true) {
        const Result<std::size_t> got = co_await self->link_->read_some(std::span(buffer).subspan(filled));
        if (!got) {
            self->lost_ = Fault{got.fault().code, got.fault().what, self->name_, got.fault().remedy};
            self->link_was_lost();
            co_return;
        }
        filled += *got;
        const std::size_t done = self->take_bytes(std::span(buffer).first(filled), self->clock_.now_s());
        if (done == 0 && filled == buffer.size()) {
            filled = 0;  // a parser that wants more than fits has lost its framing
        } else {
            std::memmove(buffer.data(), buffer.data() + done, filled - done);
            filled -= done;
        }
    }
}

Task<Outcome> LinkUser::send(std::string_view message) {
    if (lost_) co_return *lost_;
    outgoing_ += message;
    if (writing_) co_return Done{};  // whoever writes takes this along
    writing_ = true;
    const auto self = shared_from_this();
    Outcome outcome = Done{};
    while (!outgoing_.empty() && outcome.ok()) {
        std::string chunk;
        chunk.swap(outgoing_);
        outcome = co_await link_->write(std::as_bytes(std::span(chunk)));
    }
    writing_ = false;
    if (!outcome) co_return Fault{outcome.fault().code, outcome.fault().what, name_, outcome.fault().remedy};
    co_return Done{};
}

}  // namespace tipwright::bench
