// TCP: the client of a serial device server. What the server passes on is the instrument's bytes as they are.
#include <netinet/tcp.h>
#include <poll.h>

#include <charconv>
#include <chrono>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>

#include "bench/links/open_links.hpp"
#include "bench/links/stream_link.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;
using Socket = asio::ip::tcp::socket;
using boost::system::error_code;

constexpr int connect_limit_ms = 5000;
// A server that has gone without a word is noticed within this.
constexpr int silence_limit_ms = 10000;

struct Address {
    std::string host;
    std::string port;
};

std::optional<Address> split(std::string_view host_and_port) {
    const std::size_t colon = host_and_port.rfind(':');
    if (colon == std::string_view::npos) return std::nullopt;
    std::string_view host = host_and_port.substr(0, colon);
    const std::string_view digits = host_and_port.substr(colon + 1);
    if (host.size() > 2 && host.front() == '[' && host.back() == ']')
        host = host.substr(1, host.size() - 2);
    else if (host.find(':') != std::string_view::npos)
        return std::nullopt;
    unsigned port = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), port);
    const bool whole = error == std::errc() && end == digits.data() + digits.size();
    if (host.empty() || !whole || port == 0 || port > 65535) return std::nullopt;
    return Address{std::string(host), std::string(digits)};
}

void set_options(Socket& socket) {
    error_code ignored;
    static_cast<void>(socket.set_option(asio::ip::tcp::no_delay(true), ignored));
    static_cast<void>(socket.set_option(asio::socket_base::keep_alive(true), ignored));
    const int idle_s = 3;
    const int interval_s = 2;
    const int descriptor = socket.native_handle();
    ::setsockopt(descriptor, IPPROTO_TCP, TCP_KEEPIDLE, &idle_s, sizeof idle_s);
    ::setsockopt(descriptor, IPPROTO_TCP, TCP_KEEPINTVL, &interval_s, sizeof interval_s);
    ::setsockopt(descriptor, IPPROTO_TCP, TCP_USER_TIMEOUT, &silence_limit_ms, sizeof silence_limit_ms);
}

// Connects before the context runs, within the limit.
error_code connect_now(Socket& socket, const asio::ip::tcp::endpoint& endpoint) {
    error_code error;
    static_cast<void>(socket.open(endpoint.protocol(), error));
    if (error) return error;
    static_cast<void>(socket.non_blocking(true, error));
    static_cast<void>(socket.connect(endpoint, error));
    if (error != asio::error::in_progress && error != asio::error::would_block) return error;
    pollfd waiting{socket.native_handle(), POLLOUT, 0};
    if (::poll(&waiting, 1, connect_limit_ms) != 1) return asio::error::timed_out;
    int result = 0;
    socklen_t size = sizeof result;
    ::getsockopt(socket.native_handle(), SOL_SOCKET, SO_ERROR, &result, &size);
    return error_code(result, boost::system::system_category());
}

class TcpLink final : public StreamLink<Socket> {
public:
    TcpLink(Socket socket, asio::ip::tcp::endpoint endpoint, const std::string& host_and_port)
        : StreamLink(std::move(socket), "tcp " + host_and_port), endpoint_(std::move(endpoint)) {
        set_options(stream());
    }

    void close() override {
        error_code ignored;
        static_cast<void>(stream().shutdown(Socket::shutdown_both, ignored));
        static_cast<void>(stream().close(ignored));
    }

    bool can_reopen() const override { return true; }

    Task<Outcome> reopen() override {
        close();
        // Shared with the timer's handler, which may still be queued when this has ended.
        const auto fresh = std::make_shared<Socket>(stream().get_executor());
        asio::steady_timer limit(stream().get_executor(), std::chrono::milliseconds(connect_limit_ms));
        limit.async_wait([fresh](const error_code& cancelled) {
            error_code ignored;
            if (!cancelled) static_cast<void>(fresh->close(ignored));
        });
        error_code error;
        co_await fresh->async_connect(endpoint_, asio::redirect_error(asio::use_awaitable, error));
        limit.cancel();
        if (error || !fresh->is_open()) co_return link_fault(name(), error ? error : asio::error::timed_out);
        stream() = std::move(*fresh);
        set_options(stream());
        co_return Done{};
    }

private:
    asio::ip::tcp::endpoint endpoint_;
};

}  // namespace

bool is_host_and_port(std::string_view text) {
    return split(text).has_value();
}

Result<std::unique_ptr<Link>> open_tcp_link(asio::io_context& context, const std::string& host_and_port,
                                            const SerialSettings&) {
    const Address address = split(host_and_port).value();
    error_code error;
    asio::ip::tcp::resolver resolver(context);
    const auto found = resolver.resolve(address.host, address.port, error);
    for (const auto& entry : found) {
        Socket socket(context);
        error = connect_now(socket, entry.endpoint());
        if (!error) {
            return std::unique_ptr<Link>(
                std::make_unique<TcpLink>(std::move(socket), entry.endpoint(), host_and_port));
        }
    }
    return Fault{FaultCode::link_lost, "cannot be reached: " + (error ? error.message() : "no such host"),
                 "tcp " + host_and_port, "check the address, the network and that the device server is on"};
}

}  // namespace tipwright::bench
