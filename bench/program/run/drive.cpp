#include "bench/program/run/drive.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <exception>
#include <new>
#include <utility>

#include "bench/program/exit_codes.hpp"
#include "bench/run/crash_stop.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

bench::Task<void> perform(DrivenLane& lane) {
    co_await lane.run.perform(lane.callbacks);
    if (lane.ended) lane.ended();
}

}  // namespace

void drive(asio::io_context& context, bench::Clock& clock, std::vector<DrivenLane> lanes,
           bench::Supervision& supervision) {
    supervision.begin();
    std::size_t going = lanes.size();
    std::exception_ptr defect;
    for (auto& lane : lanes) {
        asio::co_spawn(context, perform(lane), [&](const std::exception_ptr& error) {
            if (error && !defect) defect = error;
            // A defect of one lane does not end the others.
            if (--going > 0) return;
            supervision.end();
            clock.stop();
        });
    }
    try {
        if (!lanes.empty()) clock.run();
    } catch (const std::bad_alloc&) {
        bench::end_without_memory();
        throw;
    }
    if (defect) std::rethrow_exception(defect);
}

void drive_one(asio::io_context& context, bench::Clock& clock, LaneRun& run, ProgressView& view,
               bench::Supervision& supervision) {
    bench::RunCallbacks callbacks;
    callbacks.progress = [&view](const bench::Progress& progress) { view.show(progress); };
    callbacks.message = [&view](const std::string& text) { view.message(text); };
    drive(context, clock, {{run, callbacks, {}}}, supervision);
    view.finish();
}

void suspend_if_asked(bench::Supervision& supervision, Display& display) {
    if (!supervision.suspension_asked()) return;
    display.cry(
        "!! Suspended (Ctrl-Z). The pump was told to stop first, and the work has ended there: nothing goes "
        "on by itself when the program wakes (fg).\n");
    display.flush();
    supervision.suspend_if_asked();
}

bench::SupervisionOptions supervision_of(double hang_s, Display& display, std::function<void()> stopping) {
    bench::SupervisionOptions options;
    options.hang_s = hang_s;
    options.signals = true;
    options.display_trouble = [&display] { return display.trouble(); };
    options.stopping = std::move(stopping);
    options.cry = [&display](const std::string& text) { display.cry(text); };
    options.code_without_memory = static_cast<int>(ExitCode::bench_fault);
    return options;
}

}  // namespace tipwright::program
