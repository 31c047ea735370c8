// Listen session: shows what comes over one link, read by a profile where there is one, and sends, asks or
// watches contacts as was told. Bytes for a pump go out under the guard; others by an UnguardedRight alone.
// Runs on its clock until end(), the last line wanted, or the link's loss. Times: real seconds. Errors: as
// Fault, of the link, the recording or an instrument.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/clock/clock.hpp"
#include "bench/clock/signal.hpp"
#include "bench/instruments/profile.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/instruments/unguarded_right.hpp"
#include "bench/links/link.hpp"
#include "bench/links/serial_settings.hpp"
#include "bench/links/traffic.hpp"
#include "bench/program/instruments/asked_instrument.hpp"
#include "bench/program/instruments/lone_pump.hpp"
#include "bench/program/instruments/traffic_recorder.hpp"
#include "bench/program/instruments/traffic_view.hpp"
#include "bench/program/run/display.hpp"
#include "bench/run/run.hpp"
#include "bench/run/supervision.hpp"

namespace tipwright::program {

// What is listened to.
struct ListenTarget {
    std::string link;  // as in a bench description, or "replay FILE"
    std::optional<bench::InstrumentProfile> profile;

    bool replays() const;
    bool is_pump() const { return profile && profile->role == bench::Role::pump; }
};

// What is done there.
struct ListenWork {
    std::vector<std::string> send;  // with \r, \n, \x1B
    std::string stop;               // likewise, at the end; without a profile
    bool no_pump = false;           // what is sent to, by the person's word
    std::vector<std::string> ask;   // identify, read, tare, stop
    std::optional<int> lines;       // ends after so many that were understood
    std::filesystem::path record;
    bench::SerialSettings serial;  // without a profile
};

class ListenSession {
public:
    ListenSession(boost::asio::io_context& context, bench::Clock& clock, bench::Supervision& supervision,
                  bench::RunControl& control, Display& display, const ListenWork& work, TrafficView& view)
        : context_(context),
          clock_(clock),
          supervision_(supervision),
          control_(control),
          display_(display),
          work_(work),
          view_(view) {}

    Outcome start(const ListenTarget& target);
    const std::optional<Fault>& failure() const { return failure_; }
    bool recording_failed() const { return recorder_.failed(); }
    // What was sent may have started a pump: it was stopped at the end, and answered.
    bool pump_stopped() const { return lone_ && !failure_; }
    void end() {
        over_ = true;
        if (lone_)
            ended_.notify();
        else
            clock_.stop();
    }
    void close() {
        counter_.reset();
        lone_.reset();
        asked_ = {};
        if (link_) link_->close();
    }

private:
    // Bytes of somebody's own to a pump may set any flow: they go out under the guard, and the pump is
    // stopped at the end.
    Outcome work_pump(const bench::InstrumentProfile& profile, std::unique_ptr<bench::Link> link);
    void see(const bench::TrafficEntry& entry);
    bench::Task<void> watch_contacts();
    bench::Task<void> read_on();
    bench::Task<void> send_all(bench::UnguardedRight own);
    bench::Task<void> ask_on(std::vector<std::string> questions);

    boost::asio::io_context& context_;
    bench::Clock& clock_;
    bench::Supervision& supervision_;
    bench::RunControl& control_;
    Display& display_;
    const ListenWork& work_;
    TrafficView& view_;
    TrafficRecorder recorder_;
    std::unique_ptr<bench::Link> link_;
    std::optional<bench::UnguardedRight> own_;
    AskedInstrument asked_;
    std::unique_ptr<bench::TipCounter> counter_;
    std::optional<Fault> failure_;
    bool ends_with_link_ = false;
    std::unique_ptr<LonePump> lone_;
    std::function<bench::Task<void>()> pump_work_;
    bench::Signal ended_{context_};
    bool over_ = false;
};

}  // namespace tipwright::program
