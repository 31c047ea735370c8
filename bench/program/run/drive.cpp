#include "bench/program/run/drive.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <chrono>
#include <csignal>
#include <exception>

#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

bench::Task<void> perform(DrivenLane& lane) {
    co_await lane.run.perform(lane.callbacks);
    if (lane.ended) lane.ended();
}

}  // namespace

void drive(asio::io_context& context, bench::Clock& clock, std::vector<DrivenLane> lanes,
           const DriveCallbacks& callbacks, bench::Watchdog* watchdog) {
    asio::signal_set signals(context, SIGINT, SIGTERM, SIGHUP);
    bool stopping = false;
    const std::function<void()> wait_for_signal = [&] {
        signals.async_wait([&](const boost::system::error_code& error, int) {
            if (error) return;
            for (auto& lane : lanes)
                lane.run.control().request_stop(
                    {FaultCode::interrupted, "stopped by the operator", "run", ""});
            if (!stopping && callbacks.stopping) callbacks.stopping();
            stopping = true;
            wait_for_signal();
        });
    };
    wait_for_signal();

    asio::steady_timer feeding(context);
    int bites = 0;
    const std::function<void()> feed = [&] {
        watchdog->feed();
        if (watchdog->bites() != bites) {
            bites = watchdog->bites();
            const Fault why{FaultCode::time_limit,
                            "the program hung for " + calib::fixed(watchdog->longest_hang_s(), 1) +
                                " s, and its watchdog stopped the pumps",
                            "watchdog",
                            "look for what held it up: a display that takes no more (Ctrl-S), a slow disk, a "
                            "machine under load"};
            for (auto& lane : lanes) lane.run.control().request_stop(why);
        }
        feeding.expires_after(std::chrono::duration_cast<std::chrono::steady_clock::duration>(
            std::chrono::duration<double>(watchdog->limit_s() / 8)));
        feeding.async_wait([&](const boost::system::error_code& error) {
            if (!error) feed();
        });
    };
    if (watchdog != nullptr) feed();

    std::size_t going = lanes.size();
    std::exception_ptr defect;
    for (auto& lane : lanes) {
        asio::co_spawn(context, perform(lane), [&](const std::exception_ptr& error) {
            if (error && !defect) defect = error;
            // A defect of one lane does not end the others.
            if (--going > 0) return;
            signals.cancel();
            feeding.cancel();
            clock.stop();
        });
    }
    if (!lanes.empty()) clock.run();
    if (defect) std::rethrow_exception(defect);
}

void drive_one(asio::io_context& context, bench::Clock& clock, LaneRun& run, ProgressView& view,
               bench::Watchdog* watchdog) {
    bench::RunCallbacks callbacks;
    callbacks.progress = [&view](const bench::Progress& progress) { view.show(progress); };
    callbacks.message = [&view](const std::string& text) { view.message(text); };
    drive(context, clock, {{run, callbacks, {}}}, {[&view] { view.message(stopping_words); }}, watchdog);
    view.finish();
}

}  // namespace tipwright::program
