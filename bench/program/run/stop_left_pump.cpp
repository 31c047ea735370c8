#include "bench/program/run/stop_left_pump.hpp"

#include <unistd.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/program/instruments/lone_pump.hpp"
#include "bench/program/run/drive.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::program {

Fault with_plug(Fault fault) {
    add_part(fault.remedy, "if its pump runs, pull its plug");
    return fault;
}

namespace {

namespace asio = boost::asio;

// Reaches the pump by its own link, before anything else. The pump's fault, or that of another instrument
// there; interrupted as soon as somebody asks to end.
Outcome stop_pump(const CommonOptions& common, const bench::BenchDescription& bench,
                  std::optional<double> speed, const bench::KnownIdentities& identities) {
    asio::io_context context(1);
    const auto clock = bench::make_wall_clock(context, speed.value_or(1));
    Display display(common.json ? STDERR_FILENO : STDOUT_FILENO, common.json ? -1 : STDERR_FILENO);
    bench::Supervision supervision(context, supervision_of(bench.limits.hang_s, display, {}));
    bench::RunControl control;
    auto pump = connect_pump(context, *clock, bench, common.templates, supervision);
    if (!pump) return pump.fault();
    std::optional<LonePump> alone;
    alone.emplace(
        context, *clock, std::move(*pump), supervision, control,
        [&display](const std::string& text) { display.cry("!! " + visible(text) + "\n"); }, identities);
    Outcome outcome = Done{};
    supervision.begin();
    const auto stop_and_ask = [&]() -> bench::Task<Outcome> {
        Outcome stopped = co_await alone->guard().make_safe();
        if (!stopped) co_return stopped;
        if (identities.empty()) co_return Done{};
        co_return co_await alone->guard().recognise_pump();
    };
    const auto stop = [&]() -> bench::Task<void> {
        // Abandoned where somebody does not want to wait for a pump that is silent: it has been told.
        outcome = co_await alone->guard().carry_out(stop_and_ask);
        if (!outcome) alone->guard().warn("the pump was not reached (" + outcome.fault().what + ")");
        supervision.end();
        alone.reset();
        clock->stop();
    };
    std::exception_ptr defect;
    asio::co_spawn(context, stop, [&](const std::exception_ptr& error) {
        defect = error;
        if (error) clock->stop();
    });
    clock->run();
    if (defect) std::rethrow_exception(defect);
    suspend_if_asked(supervision, display);
    display.finish();
    if (!control.requested()) return outcome;
    return outcome ? *control.requested() : with_plug(*control.requested());
}

}  // namespace

Result<PumpFound> stop_left_pump(const CommonOptions& common, const bench::BenchDescription& bench,
                                 std::optional<double> speed, const bench::KnownIdentities& identities) {
    const Outcome stopped = stop_pump(common, bench, speed, identities);
    if (stopped) return PumpFound{"told to stop, and it answered"};
    if (stopped.fault().code == FaultCode::interrupted) return stopped.fault();
    return PumpFound{"NOT REACHED: PULL THE PUMP'S PLUG if it turns (" + stopped.fault().line() + ")", false,
                     stopped.fault().what};
}

}  // namespace tipwright::program
