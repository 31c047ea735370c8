#include "bench/virtual_bench/serve.hpp"

#include <unistd.h>

#include <charconv>
#include <csignal>
#include <utility>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "bench/virtual_bench/device_text.hpp"
#include "bench/virtual_bench/served_link.hpp"

namespace tipwright::bench {

namespace {

// The hand of somebody beside the bench, as lines of text. Other lines are passed over.
Task<void> follow_hand(boost::asio::io_context& context, Clock& clock, VirtualBench& bench, int descriptor) {
    constexpr std::string_view verb = "load ";
    boost::asio::posix::stream_descriptor input(context);
    boost::system::error_code error;
    static_cast<void>(input.assign(::dup(descriptor), error));
    std::string text;
    while (!error) {
        const std::size_t length = co_await boost::asio::async_read_until(
            input, boost::asio::dynamic_buffer(text, 4096), '\n',
            boost::asio::redirect_error(boost::asio::use_awaitable, error));
        if (error) break;
        const std::string_view line = std::string_view(text).substr(0, length - 1);
        double load_g = 0;
        if (line.starts_with(verb)) {
            const auto [end, wrong] =
                std::from_chars(line.data() + verb.size(), line.data() + line.size(), load_g);
            if (wrong == std::errc() && end == line.data() + line.size() && load_g >= 0 && load_g <= 1e5) {
                bench.physics().advance_to(clock.now_s());
                bench.physics().put_on_pan(load_g);
            }
        }
        text.erase(0, length);
    }
}

Task<void> stop_at(Clock& clock, double time_s) {
    co_await clock.sleep_until(time_s);
    clock.stop();
}

}  // namespace

Result<std::unique_ptr<BenchServer>> BenchServer::open(boost::asio::io_context& context, Clock& clock,
                                                       const ServeSettings& settings) {
    std::unique_ptr<BenchServer> server(new BenchServer);
    server->bench_ = std::make_unique<VirtualBench>(clock, context, settings.gauge, settings.gauge_truth,
                                                    settings.bench_truth, settings.metrology, settings.seed,
                                                    settings.faults);
    std::uint16_t port = settings.first_port;
    for (const std::string_view role : VirtualBench::roles) {
        Result<ServedLink> link = settings.on == ServeOn::pseudo_terminals ? make_served_pty(context, clock)
                                                                           : make_served_tcp(context, port);
        if (!link) return link.fault();
        server->instruments_.push_back({std::string(role), link->address});
        server->bench_->attach(role, std::move(link->device_end));
        for (const InstrumentProfile& profile : settings.profiles)
            if (name_of(profile.role) == role) server->bench_->speak(role, profile);
        if (port != 0) ++port;
    }
    server->bench_->start();
    return server;
}

Outcome serve(const ServeSettings& settings, double speed, double duration_s,
              const std::function<void(const std::vector<ServedInstrument>&)>& ready) {
    if (!(speed >= 0.1 && speed <= 1000)) {
        return Fault{FaultCode::bad_value, "speed " + fixed_text(speed, 3) + " is not between 0.1 and 1000",
                     "speed", "give 1 for real time"};
    }
    boost::asio::io_context context;
    const std::unique_ptr<Clock> clock = make_wall_clock(context, speed);
    Result<std::unique_ptr<BenchServer>> server = BenchServer::open(context, *clock, settings);
    if (!server) return server.fault();
    boost::asio::signal_set signals(context, SIGINT, SIGTERM);
    signals.async_wait([&clock](const boost::system::error_code& error, int) {
        if (!error) clock->stop();
    });
    if (duration_s > 0) boost::asio::co_spawn(context, stop_at(*clock, duration_s), boost::asio::detached);
    if (settings.hand >= 0) {
        boost::asio::co_spawn(context, follow_hand(context, *clock, (*server)->bench(), settings.hand),
                              boost::asio::detached);
    }
    ready((*server)->instruments());
    clock->run();
    (*server)->bench().stop();
    return Done{};
}

}  // namespace tipwright::bench
