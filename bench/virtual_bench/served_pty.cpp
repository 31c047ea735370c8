#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "bench/virtual_bench/served_link.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;

// How often an end nobody holds is looked at again.
constexpr double look_again_s = 0.05;

class ServedPty final : public Link {
public:
    ServedPty(asio::io_context& context, Clock& clock, int fd, std::string name)
        : clock_(clock), terminal_(context, fd), name_(std::move(name)) {}

    std::string name() const override { return name_; }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        while (terminal_.is_open()) {
            boost::system::error_code error;
            const std::size_t got = co_await terminal_.async_read_some(
                asio::buffer(into.data(), into.size()), asio::redirect_error(asio::use_awaitable, error));
            if (!error && got > 0) co_return got;
            // EIO: nobody has the other end open.
            if (error && error.value() != EIO) break;
            co_await clock_.sleep_for(look_again_s);
        }
        co_return lost();
    }

    Task<Outcome> write(SendRight, std::span<const std::byte> bytes) override {
        if (!terminal_.is_open()) co_return lost();
        // Not waiting: a line without flow control does not wait either.
        if (somebody_there()) {
            const ssize_t written = ::write(terminal_.native_handle(), bytes.data(), bytes.size());
            if (written < 0 && errno != EAGAIN && errno != EIO) co_return lost();
        }
        co_return Done{};
    }

    void close() override {
        boost::system::error_code ignored;
        terminal_.close(ignored);
    }

private:
    bool somebody_there() {
        pollfd look{terminal_.native_handle(), POLLOUT, 0};
        return ::poll(&look, 1, 0) >= 0 && (look.revents & POLLHUP) == 0;
    }

    Fault lost() const { return {FaultCode::link_lost, "the pseudo-terminal is closed", name_, ""}; }

    Clock& clock_;
    asio::posix::stream_descriptor terminal_;
    std::string name_;
};

Fault no_terminal(const char* what) {
    return {FaultCode::file_unwritable, std::string(what) + ": " + std::strerror(errno), "pseudo-terminal",
            "close programs that hold pseudo-terminals"};
}

// Raw from the start, for whoever opens it. Opened and closed once, so that the kernel reports "nobody
// there" until the first visitor comes.
bool make_raw(const char* path) {
    const int fd = ::open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (fd < 0) return false;
    termios settings{};
    bool done = ::tcgetattr(fd, &settings) == 0;
    ::cfmakeraw(&settings);
    done = done && ::tcsetattr(fd, TCSANOW, &settings) == 0;
    return ::close(fd) == 0 && done;
}

}  // namespace

Result<ServedLink> make_served_pty(asio::io_context& context, Clock& clock) {
    const int fd = ::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) return no_terminal("cannot open a pseudo-terminal");
    std::array<char, 128> path{};
    if (::grantpt(fd) != 0 || ::unlockpt(fd) != 0 || ::ptsname_r(fd, path.data(), path.size()) != 0 ||
        !make_raw(path.data())) {
        Fault fault = no_terminal("cannot set up a pseudo-terminal");
        ::close(fd);
        return fault;
    }
    const std::string address = "pty " + std::string(path.data());
    return ServedLink{std::make_unique<ServedPty>(context, clock, fd, address), address};
}

}  // namespace tipwright::bench
