#include "bench/instruments/link_user.hpp"

#include <algorithm>
#include <cstring>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

namespace tipwright::bench {

namespace {

// No frame of any family is longer than a fraction of this.
constexpr std::size_t buffer_size = 4096;
// A link that has so much still to write takes nothing any more.
constexpr std::size_t outgoing_limit = 16384;
constexpr double first_pause_s = 0.25;
constexpr double longest_pause_s = 4;

}  // namespace

void LinkUser::start_reading(boost::asio::io_context& context) {
    context_ = &context;
    boost::asio::co_spawn(context, read_until_closed(shared_from_this()), boost::asio::detached);
}

void LinkUser::close() {
    closed_ = true;
    link_->close();
}

Task<void> LinkUser::read_until_closed(std::shared_ptr<LinkUser> self) {
    std::vector<std::byte> buffer(buffer_size);
    std::size_t filled = 0;
    while (true) {
        const Result<std::size_t> got = co_await self->link_->read_some(std::span(buffer).subspan(filled));
        if (!got) {
            if (!self->lost_)
                self->lost_ = Fault{got.fault().code, got.fault().what, self->name_, got.fault().remedy};
            self->outgoing_.clear();
            self->reopening_ = !self->closed_ && self->link_->can_reopen() && self->reopen_limit_s() > 0;
            self->link_was_lost();
            if (!self->closed_) self->tell(LinkChange::lost, self->lost_->what);
            if (!self->reopening_) co_return;
            const bool up_again = co_await self->reopen();
            if (!up_again) {
                self->reopening_ = false;
                self->link_was_lost();
                co_return;
            }
            filled = 0;
            continue;
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

Task<bool> LinkUser::reopen() {
    const double limit_s = clock_.now_s() + reopen_limit_s();
    double pause_s = first_pause_s;
    while (!closed_ && clock_.now_s() + pause_s <= limit_s) {
        co_await clock_.sleep_for(pause_s);
        pause_s = std::min(2 * pause_s, longest_pause_s);
        if (closed_) break;
        const Outcome opened = co_await link_->reopen();
        if (closed_) link_->close();
        if (!opened || closed_) continue;
        lost_.reset();
        reopening_ = false;
        outgoing_.clear();
        link_came_back();
        co_return true;
    }
    co_return false;
}

void LinkUser::tell(LinkChange change, const std::string& what) const {
    if (listener_) listener_(change, what);
}

void LinkUser::admit(LinkChange how) {
    link_was_reopened();
    tell(how, "");
}

void LinkUser::shut_out(const std::string& what) {
    lost_ = Fault{FaultCode::link_lost, what, name_, "put the cables back as they were"};
    closed_ = true;
    link_->close();
    link_was_lost();
    tell(LinkChange::stranger, what);
}

void LinkUser::spawn(Task<void> work) {
    boost::asio::co_spawn(*context_, std::move(work), boost::asio::detached);
}

Outcome LinkUser::send(std::string_view message) {
    if (lost_) return *lost_;
    if (outgoing_.size() + message.size() > outgoing_limit) {
        return Fault{FaultCode::link_lost, "the link takes no more bytes", name_,
                     "check cable and flow control"};
    }
    outgoing_ += message;
    if (!writing_) {
        writing_ = true;
        boost::asio::co_spawn(*context_, write_all(shared_from_this()), boost::asio::detached);
    }
    return Done{};
}

// That a link is lost is not told here: its reading side tells it, and who waits for an answer misses it.
// That another program uses it shows nowhere else.
Task<void> LinkUser::write_all(std::shared_ptr<LinkUser> self) {
    bool open = true;
    while (open && !self->outgoing_.empty()) {
        std::string chunk;
        chunk.swap(self->outgoing_);
        const Outcome written = co_await self->link_->write(SendRight(), std::as_bytes(std::span(chunk)));
        const bool taken = !written && written.fault().code == FaultCode::not_permitted;
        if (taken) self->tell(LinkChange::taken, written.fault().what);
        open = written || taken;
    }
    self->writing_ = false;
}

}  // namespace tipwright::bench
