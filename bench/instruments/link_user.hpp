// Link user: what every instrument does with its link. It writes whole messages, in order, whoever writes,
// and never waits for a link that takes none; it reads from the moment the instrument is made, so that bytes
// are taken at the time they came. After a loss the link is opened again, with growing pauses, where the
// instrument says for how long that is worth trying.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "bench/clock/clock.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/links/link.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

// The shared core of an instrument: kept alive by the instrument and by its reading loop.
class LinkUser : public std::enable_shared_from_this<LinkUser> {
public:
    LinkUser(std::unique_ptr<Link> link, Clock& clock, std::string name)
        : link_(std::move(link)), clock_(clock), name_(std::move(name)) {}
    LinkUser(const LinkUser&) = delete;
    LinkUser& operator=(const LinkUser&) = delete;
    virtual ~LinkUser() = default;

    // Once, after construction.
    void start_reading(boost::asio::io_context& context);
    // The reading loop ends; what waits learns of it.
    void close();

    const std::string& name() const { return name_; }
    Clock& clock() const { return clock_; }
    // Why the link is down; empty while it is up.
    const std::optional<Fault>& lost() const { return lost_; }
    // The link is down, and opening it again is being tried.
    bool reopening() const { return reopening_; }
    void on_link_change(LinkListener listener) { listener_ = std::move(listener); }

protected:
    // Takes bytes from the front and tells how many are done with; the rest comes again with more behind it.
    virtual std::size_t take_bytes(std::span<const std::byte> bytes, double arrived_s) = 0;
    virtual void link_was_lost() = 0;
    virtual void link_was_reopened() {}
    // The link is open again and nothing was sent on it yet. Ends with admit or shut_out, at once or later.
    virtual void link_came_back() { admit(LinkChange::returned_unknown); }
    // Whoever answers there is spoken to again.
    void admit(LinkChange how);
    // Whoever answers there is another: the link is closed for good.
    void shut_out(const std::string& what);
    // For how long after a loss opening it again is tried; 0: not at all.
    virtual double reopen_limit_s() const { return 0; }
    Outcome send(std::string_view message);
    void spawn(Task<void> work);
    void tell(LinkChange change, const std::string& what) const;

private:
    static Task<void> read_until_closed(std::shared_ptr<LinkUser> self);
    static Task<void> write_all(std::shared_ptr<LinkUser> self);
    Task<bool> reopen();

    std::unique_ptr<Link> link_;
    Clock& clock_;
    std::string name_;
    boost::asio::io_context* context_ = nullptr;
    std::optional<Fault> lost_;
    std::string outgoing_;
    bool writing_ = false;
    bool reopening_ = false;
    bool closed_ = false;
    LinkListener listener_;
};

}  // namespace tipwright::bench
