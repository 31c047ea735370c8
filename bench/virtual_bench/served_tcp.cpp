#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include "bench/virtual_bench/served_link.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;
using asio::ip::tcp;

class ServedTcp final : public Link {
public:
    ServedTcp(tcp::acceptor acceptor, std::string name)
        : acceptor_(std::move(acceptor)), visitor_(acceptor_.get_executor()), name_(std::move(name)) {}

    std::string name() const override { return name_; }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        while (acceptor_.is_open()) {
            boost::system::error_code error;
            if (!visitor_.is_open()) {
                tcp::socket arrived =
                    co_await acceptor_.async_accept(asio::redirect_error(asio::use_awaitable, error));
                if (error) break;
                arrived.set_option(tcp::no_delay(true), error);
                visitor_ = std::move(arrived);
            }
            const std::size_t got = co_await visitor_.async_read_some(
                asio::buffer(into.data(), into.size()), asio::redirect_error(asio::use_awaitable, error));
            if (!error && got > 0) co_return got;
            visitor_.close(error);
        }
        co_return lost();
    }

    Task<Outcome> write(SendRight, std::span<const std::byte> bytes) override {
        if (!acceptor_.is_open()) co_return lost();
        if (visitor_.is_open()) {
            boost::system::error_code gone;
            co_await asio::async_write(visitor_, asio::buffer(bytes.data(), bytes.size()),
                                       asio::redirect_error(asio::use_awaitable, gone));
        }
        co_return Done{};
    }

    void close() override {
        boost::system::error_code ignored;
        acceptor_.close(ignored);
        visitor_.close(ignored);
    }

private:
    Fault lost() const { return {FaultCode::link_lost, "the port is closed", name_, ""}; }

    tcp::acceptor acceptor_;
    tcp::socket visitor_;
    std::string name_;
};

}  // namespace

Result<ServedLink> make_served_tcp(asio::io_context& context, std::uint16_t port) {
    const tcp::endpoint wanted(asio::ip::address_v4::loopback(), port);
    tcp::acceptor acceptor(context);
    boost::system::error_code error;
    acceptor.open(wanted.protocol(), error);
    if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
    if (!error) acceptor.bind(wanted, error);
    if (!error) acceptor.listen(1, error);
    tcp::endpoint bound;
    if (!error) bound = acceptor.local_endpoint(error);
    if (error) {
        return Fault{FaultCode::file_unwritable, "cannot listen: " + error.message(),
                     "tcp 127.0.0.1:" + std::to_string(port), "choose another port, or 0 for any free one"};
    }
    const std::string address = "tcp 127.0.0.1:" + std::to_string(bound.port());
    return ServedLink{std::make_unique<ServedTcp>(std::move(acceptor), address), address};
}

}  // namespace tipwright::bench
