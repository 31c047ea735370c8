// Pseudo-terminal: opened directly, since libserialport 0.1.1 cannot (it wants a sysfs entry and TIOCMGET).
#include <fcntl.h>
#include <sys/file.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include <boost/asio/posix/stream_descriptor.hpp>

#include "bench/links/link_lock.hpp"
#include "bench/links/open_links.hpp"
#include "bench/links/stream_link.hpp"

namespace tipwright::bench {

namespace {

using Descriptor = boost::asio::posix::stream_descriptor;

Result<int> open_raw(const std::string& path) {
    const int descriptor = ::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (descriptor < 0) {
        const bool missing = errno == ENOENT;
        return Fault{missing ? FaultCode::file_missing : FaultCode::link_lost,
                     std::string("cannot be opened: ") + std::strerror(errno), path,
                     missing ? "start what serves the pseudo-terminal first" : "check its permissions"};
    }
    termios settings{};
    if (::tcgetattr(descriptor, &settings) != 0) {
        ::close(descriptor);
        return Fault{FaultCode::bad_value, "is not a terminal", path, "name a pseudo-terminal"};
    }
    // The device itself too: its lock's file may be removed.
    if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
        const int error = errno;
        if (const auto fault = lock_failure(error, path, "is in use by another program", lock_policy())) {
            ::close(descriptor);
            return *fault;
        }
    }
    ::cfmakeraw(&settings);
    ::tcsetattr(descriptor, TCSANOW, &settings);
    // What came before, for a program that is gone perhaps, would pass for news.
    ::tcflush(descriptor, TCIFLUSH);
    return descriptor;
}

class PtyLink final : public StreamLink<Descriptor> {
public:
    PtyLink(boost::asio::io_context& context, int descriptor, const std::string& path)
        : StreamLink(Descriptor(context, descriptor), path) {}

    void close() override {
        // Whoever keeps a copy of the descriptor, to stop a pump by, would hold the lock on.
        if (descriptor() >= 0) static_cast<void>(::flock(descriptor(), LOCK_UN));
        boost::system::error_code ignored;
        static_cast<void>(stream().close(ignored));
    }

    bool can_reopen() const override { return true; }

    Task<Outcome> reopen() override {
        close();
        const Result<int> descriptor = open_raw(name());
        if (!descriptor) co_return descriptor.fault();
        boost::system::error_code error;
        static_cast<void>(stream().assign(*descriptor, error));
        if (error) {
            ::close(*descriptor);
            co_return link_fault(name(), error);
        }
        co_return Done{};
    }
};

}  // namespace

Result<std::unique_ptr<Link>> open_pty_link(boost::asio::io_context& context, const std::string& path,
                                            const SerialSettings&) {
    const Result<int> descriptor = open_raw(path);
    if (!descriptor) return descriptor.fault();
    return std::unique_ptr<Link>(std::make_unique<PtyLink>(context, *descriptor, path));
}

}  // namespace tipwright::bench
