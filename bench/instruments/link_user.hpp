// Link user: what every instrument does with its link. It writes whole messages, in order, whoever writes;
// and it reads from the moment the instrument is made, so that bytes are taken at the time they came.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "bench/clock/clock.hpp"
#include "bench/links/link.hpp"
#include "calib/fault.hpp"

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
    void close() { link_->close(); }

    const std::string& name() const { return name_; }
    Clock& clock() const { return clock_; }
    // Set once the link is lost, for good.
    const std::optional<Fault>& lost() const { return lost_; }

protected:
    // Takes bytes from the front and tells how many are done with; the rest comes again with more behind it.
    virtual std::size_t take_bytes(std::span<const std::byte> bytes, double arrived_s) = 0;
    virtual void link_was_lost() = 0;
    Task<Outcome> send(std::string_view message);

private:
    static Task<void> read_until_lost(std::shared_ptr<LinkUser> self);

    std::unique_ptr<Link> link_;
    Clock& clock_;
    std::string name_;
    std::optional<Fault> lost_;
    std::string outgoing_;
    bool writing_ = false;
};

}  // namespace tipwright::bench
