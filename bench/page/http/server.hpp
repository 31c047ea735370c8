// Server: HTTP/1.1 on one thread, over Boost.Beast; with an identity over TLS 1.2 or newer (OpenSSL) and
// never without. Every size, count and time is capped: a sender that is slow, too large, or one of too many
// costs its own connection and nothing else. It asks the site for each answer and knows nothing of what is in
// it.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "bench/page/http/hub.hpp"
#include "bench/page/http/identity.hpp"
#include "bench/page/http/message.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::page {

struct ServerLimits {
    std::size_t connections = 400;      // beyond it the one that has waited longest without asking goes
    std::size_t header_bytes = 8192;    // of a request
    std::size_t body_bytes = 64 << 10;  // of a form
    std::size_t later = 32;             // answers that wait for the desk
    double handshake_s = 5;             // of TLS
    double request_s = 15;              // from one answer to the end of the next request
    double answer_s = 20;               // for a browser to take an answer
    double silence_s = 15;              // of an event stream, before a keep-alive is sent
};

class Server {
public:
    using Answer = std::function<Response(Request)>;
    // First event of a stream: everything as it stands.
    using Begin = std::function<std::string(const std::string& language)>;

    // Port 0: any. `identity`: none, no TLS. Faults: bad_value (not an address), not_permitted,
    // inconsistent (in use), damaged (no certificate and key of one another).
    static Result<std::unique_ptr<Server>> open(boost::asio::io_context& context, const std::string& address,
                                                std::uint16_t port, ServerLimits limits,
                                                const std::optional<Identity>& identity = std::nullopt);
    ~Server();

    std::uint16_t port() const;
    void serve(Answer answer, Begin begin, Hub& hub);

private:
    struct State;
    explicit Server(std::shared_ptr<State> state);
    std::shared_ptr<State> state_;
};

}  // namespace tipwright::page
