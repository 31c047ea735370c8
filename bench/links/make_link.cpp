#include <algorithm>
#include <chrono>
#include <string_view>

#include "bench/links/link_kinds.hpp"
#include "bench/links/link_lock.hpp"
#include "bench/links/open_links.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {
namespace {

// A link's description is its kind and, after blanks, one word that the kind understands.
struct Described {
    const LinkKind* kind = nullptr;
    std::string target;
};

// Of a device that is itself locked another program lets go at once; so many looks later it has not.
constexpr int taken_for_good = 3;

// Holds the lock until the link is closed for good; a loss and a return are within it.
class LockedLink final : public Link {
public:
    LockedLink(std::unique_ptr<Link> link, std::unique_ptr<LinkLock> lock)
        : lock_(std::move(lock)), link_(std::move(link)) {}

    std::string name() const override { return link_->name(); }
    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        if (lock_) lock_->renew_if_due(std::chrono::steady_clock::now());
        return link_->read_some(into);
    }
    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        taken_ = !lock_ || lock_->renew() ? 0 : taken_ + 1;
        return taken_ == taken_for_good ? write_and_tell(right, bytes) : link_->write(right, bytes);
    }
    void close() override {
        link_->close();
        lock_.reset();
    }
    int descriptor() const override { return link_->descriptor(); }
    bool can_reopen() const override { return lock_ && link_->can_reopen(); }
    Task<Outcome> reopen() override { return link_->reopen(); }
    ModemLines* modem_lines() override { return link_->modem_lines(); }

private:
    // The bytes may be those that stop a pump.
    Task<Outcome> write_and_tell(SendRight right, std::span<const std::byte> bytes) {
        auto written = co_await link_->write(right, bytes);
        if (!written) co_return written;
        co_return Fault{FaultCode::not_permitted,
                        "another program uses the link by now: its lock was removed while it was held",
                        name(), std::string(link_taken_remedy)};
    }

    std::unique_ptr<LinkLock> lock_;
    std::unique_ptr<Link> link_;
    int taken_ = 0;  // so often in a row another program held the lock
};

bool is_target(LinkTarget kind, std::string_view text) {
    if (text.empty() || text.find_first_of(" \t\n") != std::string_view::npos) return false;
    return kind == LinkTarget::device || is_host_and_port(text);
}

Result<Described> understand(std::string_view description) {
    const std::size_t blank = std::min(description.find(' '), description.size());
    const std::size_t begin = std::min(description.find_first_not_of(' ', blank), description.size());
    const std::string_view target = description.substr(begin);
    const LinkKind* kind = link_kind_of(description);
    if (kind != nullptr && is_target(kind->target, target)) return Described{kind, std::string(target)};
    return Fault{FaultCode::bad_value, "invalid link " + in_quotes(description), "link",
                 "write " + alternatives(link_forms())};
}

}  // namespace

Outcome check_link(std::string_view description) {
    const Result<Described> link = understand(description);
    if (!link) return link.fault();
    return Done{};
}

Result<std::unique_ptr<Link>> make_link(boost::asio::io_context& context, const std::string& description,
                                        const SerialSettings& settings) {
    const Result<Described> link = understand(description);
    if (!link) return link.fault();
    // First the lock: to open a port is already to touch it.
    auto lock = LinkLock::take(std::string(link->kind->name) + " " + link->target);
    if (!lock) return lock.fault();
    auto opened = link->kind->open(context, link->target, settings);
    if (!opened) return opened.fault();
    return std::unique_ptr<Link>(std::make_unique<LockedLink>(std::move(*opened), std::move(*lock)));
}

}  // namespace tipwright::bench
