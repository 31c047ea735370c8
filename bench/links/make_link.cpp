#include <string_view>

#include "bench/links/link_lock.hpp"
#include "bench/links/open_links.hpp"

namespace tipwright::bench {

namespace {

// Holds the lock until the link is closed for good; a loss and a return are within it.
class LockedLink final : public Link {
public:
    LockedLink(std::unique_ptr<Link> link, std::unique_ptr<LinkLock> lock)
        : lock_(std::move(lock)), link_(std::move(link)) {}

    std::string name() const override { return link_->name(); }
    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override { return link_->read_some(into); }
    Task<Outcome> write(std::span<const std::byte> bytes) override { return link_->write(bytes); }
    void close() override {
        link_->close();
        lock_.reset();
    }
    int descriptor() const override { return link_->descriptor(); }
    bool can_reopen() const override { return lock_ && link_->can_reopen(); }
    Task<Outcome> reopen() override { return link_->reopen(); }
    ModemLines* modem_lines() override { return link_->modem_lines(); }

private:
    std::unique_ptr<LinkLock> lock_;
    std::unique_ptr<Link> link_;
};

Result<std::unique_ptr<Link>> open_unlocked(boost::asio::io_context& context, const std::string& kind,
                                            const std::string& target, const SerialSettings& settings) {
    if (kind == "serial") return open_serial_link(context, target, settings);
    if (kind == "tcp") return open_tcp_link(context, target);
    return open_pty_link(context, target);
}

}  // namespace

Result<std::unique_ptr<Link>> make_link(boost::asio::io_context& context, const std::string& description,
                                        const SerialSettings& settings) {
    const std::size_t blank = description.find(' ');
    const std::string kind = description.substr(0, blank);
    const std::size_t begin =
        blank == std::string::npos ? std::string::npos : description.find_first_not_of(' ', blank);
    const std::string target = begin == std::string::npos ? "" : description.substr(begin);
    if (!target.empty() && target.find_first_of(" \t\n") == std::string::npos) {
        if (kind == "serial" || kind == "tcp" || kind == "pty") {
            // First the lock: to open a port is already to touch it.
            auto lock = LinkLock::take(kind + " " + target);
            if (!lock) return lock.fault();
            auto link = open_unlocked(context, kind, target, settings);
            if (!link) return link.fault();
            return std::unique_ptr<Link>(std::make_unique<LockedLink>(std::move(*link), std::move(*lock)));
        }
    }
    return Fault{FaultCode::bad_value, in_quotes(description) + " is no link", "link",
                 "write \"serial /dev/ttyUSB0\", \"serial usb:SERIALNUMBER\", \"tcp HOST:PORT\" or \"pty "
                 "/dev/pts/3\""};
}

}  // namespace tipwright::bench
