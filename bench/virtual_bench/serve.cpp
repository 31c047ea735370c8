#include "bench/virtual_bench/serve.hpp"

#include <csignal>
#include <utility>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>

#include "bench/virtual_bench/device_text.hpp"
#include "bench/virtual_bench/served_link.hpp"

namespace tipwright::bench {

namespace {

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
    ready((*server)->instruments());
    clock->run();
    (*server)->bench().stop();
    return Done{};
}

}  // namespace tipwright::bench
