// Lockstep pair: an in-memory pipe with two ends, for a virtual bench in the same process.
#include <algorithm>
#include <cstring>
#include <memory>
#include <utility>
#include <vector>

#include <boost/asio/associated_cancellation_slot.hpp>
#include <boost/asio/associated_executor.hpp>
#include <boost/asio/async_result.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "bench/links/link.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;
using boost::system::error_code;

// A reader this far behind is not reading at all.
constexpr std::size_t unread_limit = 16u << 20;

class Reader {
public:
    explicit Reader(std::span<std::byte> into) : into_(into) {}
    Reader(const Reader&) = delete;
    Reader& operator=(const Reader&) = delete;
    virtual ~Reader() = default;
    std::span<std::byte> into() const { return into_; }
    // Posts the handler to its executor; the reader then only remains to be destroyed.
    virtual void finish(error_code error, std::size_t count) = 0;

private:
    std::span<std::byte> into_;
};

template <class Handler>
class ReaderWith final : public Reader {
public:
    ReaderWith(std::span<std::byte> into, Handler handler) : Reader(into), handler_(std::move(handler)) {}

    void finish(error_code error, std::size_t count) override {
        // On cancellation the slot's own function is what runs here; it must not be cleared under itself.
        auto slot = asio::get_associated_cancellation_slot(handler_);
        if (!error && slot.is_connected()) slot.clear();
        auto executor = asio::get_associated_executor(handler_);
        asio::post(executor,
                   [handler = std::move(handler_), error, count]() mutable { handler(error, count); });
    }

private:
    Handler handler_;
};

// One direction: bytes written and not yet read, and the coroutine that waits for some.
struct Direction {
    std::vector<std::byte> bytes;
    std::size_t begin = 0;
    bool closed = false;
    std::unique_ptr<Reader> reader;

    std::size_t take(std::span<std::byte> into) {
        const std::size_t count = std::min(into.size(), bytes.size() - begin);
        if (count == 0) return 0;
        std::memcpy(into.data(), bytes.data() + begin, count);
        begin += count;
        if (begin == bytes.size()) {
            bytes.clear();
            begin = 0;
        }
        return count;
    }

    void serve_reader() {
        if (!reader || (begin == bytes.size() && !closed)) return;
        const auto waiting = std::move(reader);
        waiting->finish({}, take(waiting->into()));
    }

    void close() {
        closed = true;
        serve_reader();
    }
};

struct Pipe {
    Direction directions[2];
};

class LockstepLink final : public Link {
public:
    LockstepLink(std::shared_ptr<Pipe> pipe, int incoming, std::string name)
        : pipe_(std::move(pipe)), incoming_(incoming), name_(std::move(name)) {}
    LockstepLink(const LockstepLink&) = delete;
    LockstepLink& operator=(const LockstepLink&) = delete;
    ~LockstepLink() override { close_both(); }

    std::string name() const override { return name_; }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        Direction& in = incoming();
        std::size_t count = in.take(into);
        if (count == 0 && !in.closed) count = co_await wait_for_bytes(into);
        if (count == 0) co_return lost();
        co_return count;
    }

    Task<Outcome> write(SendRight, std::span<const std::byte> bytes) override {
        Direction& out = outgoing();
        if (out.closed) co_return lost();
        if (out.bytes.size() - out.begin + bytes.size() > unread_limit) {
            co_return Fault{FaultCode::link_lost, "the other end no longer reads", name_, ""};
        }
        out.bytes.insert(out.bytes.end(), bytes.begin(), bytes.end());
        out.serve_reader();
        co_return Done{};
    }

    void close() override { close_both(); }

private:
    Direction& incoming() { return pipe_->directions[incoming_]; }
    Direction& outgoing() { return pipe_->directions[1 - incoming_]; }

    // What was written before the close can still be read by the other end.
    void close_both() {
        Direction& in = incoming();
        in.bytes.clear();
        in.begin = 0;
        in.close();
        outgoing().close();
    }

    Fault lost() const {
        return {FaultCode::link_lost, "the link is closed", name_, "check cable and power of the instrument"};
    }

    Task<std::size_t> wait_for_bytes(std::span<std::byte> into) {
        return asio::async_initiate<const asio::use_awaitable_t<>, void(error_code, std::size_t)>(
            [pipe = pipe_, into, index = incoming_](auto handler) {
                auto slot = asio::get_associated_cancellation_slot(handler);
                Direction& in = pipe->directions[index];
                in.reader = std::make_unique<ReaderWith<decltype(handler)>>(into, std::move(handler));
                if (slot.is_connected()) {
                    slot.assign([&in](asio::cancellation_type) {
                        const auto waiting = std::move(in.reader);
                        if (waiting) waiting->finish(asio::error::operation_aborted, 0);
                    });
                }
            },
            asio::use_awaitable);
    }

    std::shared_ptr<Pipe> pipe_;
    int incoming_;
    std::string name_;
};

}  // namespace

std::pair<std::unique_ptr<Link>, std::unique_ptr<Link>> make_lockstep_pair(boost::asio::io_context&,
                                                                           std::string name) {
    auto pipe = std::make_shared<Pipe>();
    auto far = std::make_unique<LockstepLink>(pipe, 1, name + ", far end");
    auto near = std::make_unique<LockstepLink>(pipe, 0, std::move(name));
    return {std::move(near), std::move(far)};
}

}  // namespace tipwright::bench
