// Stream link: a link over one of Asio's streams, a file descriptor or a socket. Internal to this folder:
// it brings in Asio's reading and writing.
#pragma once

#include <memory>
#include <string>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include "bench/links/link.hpp"

namespace tipwright::bench {

inline Fault link_fault(const std::string& name, const boost::system::error_code& error) {
    const bool closed = error == boost::asio::error::eof || error == boost::asio::error::operation_aborted ||
                        error == boost::asio::error::bad_descriptor;
    return {FaultCode::link_lost, closed ? "the link is closed" : "the link failed: " + error.message(), name,
            "check cable and power of the instrument"};
}

template <class Stream>
class StreamLink : public Link {
public:
    StreamLink(Stream stream, std::string name) : stream_(std::move(stream)), name_(std::move(name)) {}

    std::string name() const override { return name_; }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        boost::system::error_code error;
        const auto buffer = boost::asio::buffer(into.data(), into.size());
        const std::size_t count = co_await stream_.async_read_some(
            buffer, boost::asio::redirect_error(boost::asio::use_awaitable, error));
        if (error || count == 0) co_return link_fault(name_, error ? error : boost::asio::error::eof);
        co_return count;
    }

    Task<Outcome> write(SendRight, std::span<const std::byte> bytes) override {
        boost::system::error_code error;
        const auto buffer = boost::asio::buffer(bytes.data(), bytes.size());
        co_await boost::asio::async_write(stream_, buffer,
                                          boost::asio::redirect_error(boost::asio::use_awaitable, error));
        if (error) co_return link_fault(name_, error);
        co_return Done{};
    }

    int descriptor() const override {
        // Asio's streams give their handle only when they are not const.
        Stream& stream = const_cast<Stream&>(stream_);
        return stream.is_open() ? stream.native_handle() : -1;
    }

protected:
    Stream& stream() { return stream_; }

private:
    Stream stream_;
    std::string name_;
};

}  // namespace tipwright::bench
