#include "bench/page/http/server.hpp"

#include <algorithm>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/ssl/ssl_stream.hpp>
#include <chrono>
#include <list>

#include "bench/page/http/tls.hpp"

namespace tipwright::page {

namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using boost::system::error_code;
using tcp = asio::ip::tcp;
using Tls = asio::ssl::context;

std::chrono::steady_clock::duration seconds(double value) {
    return std::chrono::duration_cast<std::chrono::steady_clock::duration>(
        std::chrono::duration<double>(value));
}

std::string field(const http::request<http::string_body>& message, http::field name) {
    const auto value = message[name];
    return {value.data(), value.size()};
}

// Nothing: not a request that could be meant.
std::optional<Request> request_of(http::request<http::string_body>& message) {
    Request out;
    const auto method = message.method_string();
    out.method = std::string(method.data(), method.size());
    const auto target = message.target();
    if (!take_target({target.data(), target.size()}, out)) return std::nullopt;
    // Two hosts, or two lengths, are how a request is smuggled past a proxy.
    if (message.count(http::field::host) > 1 || message.count(http::field::content_length) > 1)
        return std::nullopt;
    out.has_host = message.count(http::field::host) == 1;
    out.host = field(message, http::field::host);
    out.origin = field(message, http::field::origin);
    const auto site = message["Sec-Fetch-Site"];
    out.fetch_site = std::string(site.data(), site.size());
    out.accept_language = field(message, http::field::accept_language);
    out.cookies = cookies_of(field(message, http::field::cookie));
    out.content_type = field(message, http::field::content_type);
    out.part = message.count("X-Part") > 0;
    out.body = std::move(message.body());
    if (out.content_type.starts_with("application/x-www-form-urlencoded")) {
        auto form = fields_of(out.body);
        if (!form) return std::nullopt;
        out.form = std::move(*form);
        // It may hold a passphrase; what was asked for is in the form now.
        std::fill(out.body.begin(), out.body.end(), '\0');
        out.body.clear();
    }
    return out;
}

http::response<http::string_body> message_of(Response&& answer, unsigned version, bool keep_alive,
                                             bool head) {
    http::response<http::string_body> out{static_cast<http::status>(answer.status), version};
    for (const auto& [name, value] : safety_headers()) out.set(name, value);
    out.set(http::field::content_type, answer.type);
    bool cached = false;
    for (const auto& [name, value] : answer.headers) {
        out.insert(name, value);
        cached = cached || name == "Cache-Control";
    }
    if (!cached) out.set(http::field::cache_control, "no-store");
    out.keep_alive(keep_alive);
    out.body() = std::move(answer.body);
    out.prepare_payload();
    if (head) out.body().clear();
    return out;
}

}  // namespace

struct Server::State : std::enable_shared_from_this<Server::State> {
    State(asio::io_context& io, ServerLimits wanted) : context(io), acceptor(io), limits(wanted) {}

    struct Connection {
        beast::tcp_stream* stream = nullptr;
        bool asks = false;  // an answer is on its way, or a stream of events
    };

    asio::io_context& context;
    tcp::acceptor acceptor;
    ServerLimits limits;
    std::unique_ptr<Tls> tls;  // null: none
    Answer answer;
    Begin begin;
    Hub* hub = nullptr;
    std::list<Connection> connections;  // the oldest first
    std::size_t later = 0;              // answers that are asked for elsewhere
    asio::thread_pool elsewhere{1};

    // Room for one more: whoever waits longest without asking goes.
    void make_room() {
        if (connections.size() < limits.connections) return;
        for (Connection& one : connections) {
            if (one.asks || !one.stream) continue;
            error_code ignored;
            one.stream->socket().close(ignored);
            one.stream = nullptr;
            return;
        }
    }

    asio::awaitable<void> accept() {
        asio::steady_timer pause(context);
        for (;;) {
            error_code error;
            tcp::socket socket =
                co_await acceptor.async_accept(asio::redirect_error(asio::use_awaitable, error));
            if (error == asio::error::operation_aborted || !acceptor.is_open()) co_return;
            if (error) {
                // Out of descriptors: others will be closed meanwhile.
                pause.expires_after(std::chrono::milliseconds(50));
                co_await pause.async_wait(asio::redirect_error(asio::use_awaitable, error));
                continue;
            }
            make_room();
            if (connections.size() >= 2 * limits.connections) continue;
            if (tls)
                asio::co_spawn(context,
                               converse_hidden(shared_from_this(), beast::tcp_stream(std::move(socket))),
                               asio::detached);
            else
                asio::co_spawn(context, converse(shared_from_this(), beast::tcp_stream(std::move(socket))),
                               asio::detached);
        }
    }

    static asio::awaitable<void> converse(std::shared_ptr<State> self, beast::tcp_stream stream) {
        const auto place = self->connections.insert(self->connections.end(), {&stream, false});
        try {
            co_await self->answers(stream, *place);
        } catch (const boost::system::system_error&) {
            // The browser went away, or was let go.
        }
        error_code ignored;
        stream.socket().shutdown(tcp::socket::shutdown_both, ignored);
        self->connections.erase(place);
    }

    // Over TLS. Whoever speaks anything else, or is slow at it, is let go without a word.
    static asio::awaitable<void> converse_hidden(std::shared_ptr<State> self, beast::tcp_stream lower) {
        beast::ssl_stream<beast::tcp_stream> stream(std::move(lower), *self->tls);
        beast::tcp_stream& below = beast::get_lowest_layer(stream);
        const auto place = self->connections.insert(self->connections.end(), {&below, false});
        error_code error;
        try {
            below.expires_after(seconds(self->limits.handshake_s));
            co_await stream.async_handshake(asio::ssl::stream_base::server,
                                            asio::redirect_error(asio::use_awaitable, error));
            if (!error) {
                co_await self->answers(stream, *place);
                below.expires_after(seconds(self->limits.handshake_s));
                co_await stream.async_shutdown(asio::redirect_error(asio::use_awaitable, error));
            }
        } catch (const boost::system::system_error&) {
            // The browser went away, or was let go.
        }
        below.socket().shutdown(tcp::socket::shutdown_both, error);
        self->connections.erase(place);
    }

    template <class Stream>
    asio::awaitable<void> answers(Stream& stream, Connection& connection) {
        beast::flat_buffer buffer(limits.header_bytes + limits.body_bytes);
        for (;;) {
            http::request_parser<http::string_body> parser;
            parser.header_limit(static_cast<std::uint32_t>(limits.header_bytes));
            parser.body_limit(limits.body_bytes);
            beast::get_lowest_layer(stream).expires_after(seconds(limits.request_s));
            connection.asks = false;
            error_code error;
            co_await http::async_read(stream, buffer, parser,
                                      asio::redirect_error(asio::use_awaitable, error));
            connection.asks = true;
            if (error) {
                co_await refuse(stream, error);
                co_return;
            }
            http::request<http::string_body> message = parser.release();
            const bool keep_alive = message.keep_alive();
            const bool head = message.method() == http::verb::head;
            const unsigned version = message.version();
            auto request = request_of(message);
            if (!request) {
                co_await refuse(stream, http::error::bad_target);
                co_return;
            }
            error_code gone;
            const auto peer = beast::get_lowest_layer(stream).socket().remote_endpoint(gone);
            if (!gone) request->device = peer.address().to_string();
            request->encrypted = tls != nullptr;
            Response given = made_here([&] { return answer(std::move(*request)); });
            if (given.after)
                asio::post(elsewhere, [after = std::move(given.after)] {
                    made_here([&] {
                        after();
                        return Response{};
                    });
                });
            if (given.later) {
                const auto work = std::make_shared<Elsewhere>(context);
                work->make = std::move(given.later);
                co_await make_elsewhere(work);
                given = std::move(work->answer);
            }
            if (given.events) {
                co_await stream_events(stream, *given.events);
                co_return;
            }
            auto out = message_of(std::move(given), version, keep_alive, head);
            beast::get_lowest_layer(stream).expires_after(seconds(limits.answer_s));
            co_await http::async_write(stream, out, asio::use_awaitable);
            if (!keep_alive) co_return;
        }
    }

    // A defect in one answer ends neither the page nor the other answers.
    static Response made_here(const std::function<Response()>& make) {
        try {
            return make();
        } catch (const std::exception& error) {
            Response defect;
            defect.status = 500;
            defect.type = "text/plain; charset=utf-8";
            defect.body = std::string("The page failed: ") + error.what() + "\n";
            return defect;
        }
    }

    // An answer that is made on the other thread. Kept alive by both sides.
    struct Elsewhere {
        explicit Elsewhere(asio::io_context& context)
            : made(context, asio::steady_timer::time_point::max()) {}
        std::function<Response()> make;
        Response answer;
        bool ready = false;
        asio::steady_timer made;
    };

    asio::awaitable<void> make_elsewhere(const std::shared_ptr<Elsewhere>& work) {
        if (later >= limits.later) {
            work->answer.status = 503;
            work->answer.headers = {{"Retry-After", "5"}};
            co_return;
        }
        ++later;
        asio::post(elsewhere, [work, &home = context] {
            work->answer = made_here(work->make);
            asio::post(home, [work] {
                work->ready = true;
                work->made.cancel();
            });
        });
        error_code ignored;
        while (!work->ready)
            co_await work->made.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
        --later;
    }

    template <class Stream>
    asio::awaitable<void> refuse(Stream& stream, error_code error) {
        if (error == http::error::end_of_stream || error == asio::error::operation_aborted ||
            error == beast::error::timeout || error.category() == asio::error::get_system_category() ||
            error.category() == asio::error::get_ssl_category() ||
            error == asio::ssl::error::stream_truncated)
            co_return;
        Response given;
        given.status = error == http::error::header_limit ? 431
                       : error == http::error::body_limit ? 413
                                                          : 400;
        given.type = "text/plain; charset=utf-8";
        given.body = "This request cannot be understood.\n";
        auto out = message_of(std::move(given), 11, false, false);
        beast::get_lowest_layer(stream).expires_after(seconds(limits.answer_s));
        co_await http::async_write(stream, out, asio::use_awaitable);
    }

    template <class Stream>
    asio::awaitable<void> stream_events(Stream& stream, const std::string& language) {
        const auto listener = hub->listen(language);
        auto& socket = beast::get_lowest_layer(stream);
        if (!listener) {
            Response full;
            full.status = 503;
            full.headers = {{"Retry-After", "10"}};
            auto out = message_of(std::move(full), 11, false, false);
            socket.expires_after(seconds(limits.answer_s));
            co_await http::async_write(stream, out, asio::use_awaitable);
            co_return;
        }
        asio::steady_timer alarm(context);
        listener->wake = [&alarm] { alarm.cancel(); };
        struct NoMoreWaking {
            Listener& listener;
            ~NoMoreWaking() { listener.wake = nullptr; }
        } no_more{*listener};
        std::string head =
            "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nCache-Control: no-store\r\n"
            "Connection: close\r\n";
        for (const auto& [name, value] : safety_headers())
            head.append(name).append(": ").append(value).append("\r\n");
        head += "\r\nretry: 2000\n\n" + begin(language);
        socket.expires_after(seconds(limits.answer_s));
        co_await asio::async_write(stream, asio::buffer(head), asio::use_awaitable);
        while (!listener->overrun) {
            if (listener->waiting.empty()) {
                alarm.expires_after(seconds(limits.silence_s));
                error_code error;
                co_await alarm.async_wait(asio::redirect_error(asio::use_awaitable, error));
                if (!error) listener->waiting.push_back(std::make_shared<const std::string>(": \n\n"));
                continue;
            }
            std::string together;
            for (; !listener->waiting.empty(); listener->waiting.pop_front())
                together += *listener->waiting.front();
            socket.expires_after(seconds(limits.answer_s));
            co_await asio::async_write(stream, asio::buffer(together), asio::use_awaitable);
        }
    }
};

Server::Server(std::shared_ptr<State> state) : state_(std::move(state)) {}

Server::~Server() {
    error_code ignored;
    state_->acceptor.close(ignored);
    // What waits there is done: who stopped a run is still to be noted.
    state_->elsewhere.join();
}

Result<std::unique_ptr<Server>> Server::open(asio::io_context& context, const std::string& address,
                                             std::uint16_t port, ServerLimits limits,
                                             const std::optional<Identity>& identity) {
    error_code error;
    const auto parsed = asio::ip::make_address(address, error);
    const std::string where = address + ":" + std::to_string(port);
    if (error)
        return Fault{FaultCode::bad_value, in_quotes(address) + " is not an address", "--address",
                     "give an IP address of this machine, as 127.0.0.1"};
    auto state = std::make_shared<State>(context, limits);
    if (identity) {
        auto tls = tls_of(*identity);
        if (!tls) return tls.fault();
        state->tls = std::move(*tls);
    }
    const tcp::endpoint endpoint(parsed, port);
    state->acceptor.open(endpoint.protocol(), error);
    if (!error) state->acceptor.set_option(tcp::acceptor::reuse_address(true), error);
    if (!error) state->acceptor.bind(endpoint, error);
    if (!error) state->acceptor.listen(128, error);
    if (error == asio::error::address_in_use)
        return Fault{FaultCode::inconsistent, "another program serves this port already", where,
                     "choose another with --port, or look whether a page is open already"};
    if (error)
        return Fault{FaultCode::not_permitted, "the port cannot be served: " + error.message(), where,
                     "choose another with --port"};
    return std::unique_ptr<Server>(new Server(std::move(state)));
}

std::uint16_t Server::port() const {
    error_code ignored;
    return state_->acceptor.local_endpoint(ignored).port();
}

void Server::serve(Answer answer, Begin begin, Hub& hub) {
    state_->answer = std::move(answer);
    state_->begin = std::move(begin);
    state_->hub = &hub;
    asio::co_spawn(
        state_->context, [self = state_]() -> asio::awaitable<void> { co_await self->accept(); },
        asio::detached);
}

}  // namespace tipwright::page
