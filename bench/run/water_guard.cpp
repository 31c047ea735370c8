#include "bench/run/water_guard.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include <boost/asio/experimental/awaitable_operators.hpp>

#include "calib/base/rounding.hpp"

namespace tipwright::bench {

namespace {

// No balance is silent for so long while water flows without being a danger (common practice, no source).
constexpr double stale_least_s = 15;
constexpr double sign_of_life_s = 0.4;
// Real time for which a pump may owe an answer before the work ends, and before the person is sent to its
// plug: with the pause between two signs of life, and what a display that hangs is given before standard
// error has the words, a pump that froze is told of within two seconds, with some tenths to spare on a busy
// machine. One whose profile gives it longer to answer gets that.
constexpr double doubt_s = 0.8;
constexpr double plug_s = 1.0;
constexpr int stop_attempts = 4;
constexpr double look_again_s = 0.02;
constexpr double half_limit_s = 0.1;  // for the end of a person's message to go out
constexpr double same_limit_s = 5;    // for a pump that stands to say who it is
constexpr double unknown_flow = std::numeric_limits<double>::infinity();
constexpr double unknown_tip_mL = 5;  // of a gauge nobody named

}  // namespace

WaterGuard::WaterGuard(boost::asio::io_context& context, Clock& clock, const Lane& lane,
                       const calib::Gauge& gauge, const BenchDescription& bench, Supervision& supervision,
                       RunControl& control, RunLog* log, std::function<void()> changed,
                       std::function<void(const std::string&)> tell)
    : context_(context),
      clock_(clock),
      lane_(lane),
      bench_(bench),
      discharge_mL_((gauge.nominal_tip_mL() > 0 ? gauge.nominal_tip_mL() : unknown_tip_mL) +
                    gauge.siphon_volume_mL),
      supervision_(supervision),
      control_(control),
      log_(log),
      news_(context),
      changed_(std::move(changed)),
      tell_(std::move(tell)),
      interlocks_(bench, gauge),
      stale_s_(std::max(stale_least_s, 1.5 * lane.balance.longest_pause_s())),
      silence_(context) {
    // Watched from here on; the run's own time begins when the pump is taken.
    interlocks_.begin(clock_.now_s());
    control_.notify_with([this] { tell_change(); });
    supervision_.enter(control_, [this](const std::string& text) { remark(text); });
}

class WaterGuard::Asked {
public:
    explicit Asked(WaterGuard& guard) : guard_(guard) {
        ++guard_.questions_;
        if (guard_.silent_since_ || !guard_.supervision_.real()) return;
        guard_.silent_since_ = std::chrono::steady_clock::now();
        guard_.silent_since_s_ = guard_.clock_.now_s();
        guard_.await_answer();
    }
    Asked(const Asked&) = delete;
    Asked& operator=(const Asked&) = delete;
    ~Asked() {
        --guard_.questions_;
        if (!took_) guard_.abandoned_ = true;
    }

    // A command that another one overtook says nothing of the pump.
    Outcome took(Outcome outcome) {
        took_ = true;
        if (outcome || outcome.fault().code == FaultCode::refused) {
            guard_.silent_since_.reset();
            guard_.silence_.cancel();
        }
        return outcome;
    }

private:
    WaterGuard& guard_;
    bool took_ = false;
};

void WaterGuard::await_answer() {
    silence_.expires_after(std::chrono::milliseconds(50));
    silence_.async_wait([this, still = std::weak_ptr(alive_)](const boost::system::error_code& error) {
        if (error || still.expired() || !silent_since_) return;
        silent_for(std::chrono::duration<double>(std::chrono::steady_clock::now() - *silent_since_).count());
        await_answer();
    });
}

void WaterGuard::silent_for(double real_s) {
    if (questions_ == 0) return;
    // No answer comes by a link that is lost, however long its profile gives it.
    if (!pump_cut_off_ && clock_.now_s() - silent_since_s_ < lane_.pump.longest_answer_s()) return;
    if (real_s > doubt_s && !safe_)
        set_fault({FaultCode::no_answer, "has not answered for " + calib::fixed(real_s, 1) + " s",
                   lane_.pump.name(), "check power, cable and link"});
    if (real_s > plug_s && (safe_ || flowing())) warn("the pump does not answer");
}

WaterGuard::~WaterGuard() {
    if (permit_)
        permit_->withdrawn = Fault{FaultCode::not_permitted, "the work is over", lane_.pump.name(), ""};
    supervision_.leave(control_);
    control_.notify_with({});
    lane_.pump.on_link_change({});
    lane_.balance.on_link_change({});
    lane_.counter.on_link_change({});
    if (lane_.climate != nullptr) lane_.climate->on_link_change({});
}

Task<Result<WaterPermit>> WaterGuard::take() {
    supervision_.can_note(control_);
    interlocks_.begin(clock_.now_s());
    watch_link(lane_.pump, true);
    watch_link(lane_.balance, false);
    watch_link(lane_.counter, false);
    if (lane_.climate != nullptr) watch_link(*lane_.climate, false);
    // Nobody knows what the pump was left to do by whoever had it before, a program that crashed perhaps.
    auto outcome = co_await stop();
    if (!outcome) co_return outcome.fault();
    if (supervision_.real()) {
        // Another bench's pump hears nothing more than this.
        if (auto known = co_await recognise_pump(); !known) co_return known.fault();
        co_await learn(lane_.balance);
        co_await learn(lane_.counter);
        if (lane_.climate != nullptr) co_await learn(*lane_.climate);
    }
    if (lane_.pump.own_timeout_s() > 0) {
        Asked asked(*this);
        outcome = asked.took(co_await lane_.pump.arm_own_timeout());
        if (!outcome) co_return outcome.fault();
        time_limit_armed_ = true;
    }
    if (auto fault = trouble()) co_return *fault;
    permit_ = std::make_shared<WaterPermit::State>();
    permit_->pump = &lane_.pump;
    co_return WaterPermit(permit_);
}

Task<Outcome> WaterGuard::carry_out(std::function<Task<Outcome>()> work) {
    using namespace boost::asio::experimental::awaitable_operators;
    std::optional<Outcome> first;
    std::exception_ptr defect;
    // What is thrown must not come out of here: the one beside it would be waited for, and may never end.
    const auto do_work = [&]() -> Task<void> {
        try {
            Outcome outcome = co_await work();
            if (!first) first = std::move(outcome);
        } catch (...) {
            // Work that was abandoned ends by an exception too.
            if (!first) defect = std::current_exception();
        }
    };
    const auto watch = [&]() -> Task<void> {
        for (;;) {
            if (auto fault = trouble()) {
                if (!first) first = *fault;
                co_return;
            }
            co_await news_.wait();
        }
    };
    co_await (do_work() || watch());
    if (defect) std::rethrow_exception(defect);
    co_return *first;
}

Task<Outcome> WaterGuard::let_flow(const WaterPermit& permit, double flow_mL_min, WaterExpected expected) {
    if (auto fault = trouble()) co_return *fault;
    if (!flowing() && pump_known_ && supervision_.real()) {
        // It may have been plugged over at the far end while it stood, which closes nothing here.
        Asked asked(*this);
        const Outcome same = asked.took(co_await same_pump());
        if (!same) set_fault(same.fault());
        if (auto fault = trouble()) co_return *fault;
    }
    // From before the command on: it may be taken though its answer is lost.
    flow_mL_min_ = flow_mL_min;
    flow_since_s_ = clock_.now_s();
    delivered_mL_min_ = expected.delivered_mL_min > 0 ? expected.delivered_mL_min : flow_mL_min;
    quiet_ = false;
    Asked asked(*this);
    auto outcome = asked.took(co_await lane_.pump.set_flow(permit, flow_mL_min));
    if (!outcome) co_return fault_ ? *fault_ : outcome.fault();
    if (log_ != nullptr) log_->pump(clock_.now_s(), flow_mL_min);
    expected_ = expected;
    mark_s_ = clock_.now_s();
    co_return Done{};
}

Task<Outcome> WaterGuard::let_send(const WaterPermit& permit, Link& pump_link,
                                   std::span<const std::byte> bytes, std::string_view ending) {
    if (auto refused = permit.refusal(lane_.pump, lane_.pump.name())) co_return *refused;
    if (auto fault = trouble()) co_return *fault;
    const std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    const bool half = !ending.empty() && !text.empty() && !text.ends_with(ending);
    half_ending_ = ending;
    half_link_ = half ? &pump_link : half_link_;
    // What is asked already may be asked again, in the middle of it.
    while (half && questions_ > 0) co_await clock_.sleep_for(look_again_s);
    flow_mL_min_ = delivered_mL_min_ = unknown_flow;
    flow_since_s_ = clock_.now_s();
    quiet_ = false;
    auto outcome = co_await pump_link.write(SendRight(), bytes);
    if (!half && !text.empty()) half_link_ = nullptr;
    if (!outcome && fault_) co_return *fault_;
    co_return outcome;
}

// Whatever the half may set going, the command to stop comes right behind it, and would else be its end.
Task<void> WaterGuard::end_half_message() {
    using namespace boost::asio::experimental::awaitable_operators;
    if (half_link_ == nullptr) co_return;
    Link& link = *std::exchange(half_link_, nullptr);
    const auto end = [&]() -> Task<void> {
        static_cast<void>(co_await link.write(SendRight(), std::as_bytes(std::span(half_ending_))));
    };
    // A link that takes nothing holds up no command to stop.
    co_await (end() || clock_.sleep_for(half_limit_s));
}

Task<Outcome> WaterGuard::stop() {
    expected_.patience_s = 0;
    co_await end_half_message();
    Asked asked(*this);
    auto outcome = asked.took(co_await lane_.pump.stop());
    if (!outcome) co_return fault_ ? *fault_ : outcome.fault();
    flow_mL_min_ = 0;
    if (log_ != nullptr) log_->pump(clock_.now_s(), 0);
    if (!pump_known_ || !supervision_.real()) co_return Done{};
    // Another's answer would leave the own one running, and have another bench's vessel emptied.
    outcome = asked.took(co_await same_pump());
    if (outcome) co_return Done{};
    set_fault(outcome.fault());
    co_return *fault_;
}

Task<Outcome> WaterGuard::make_safe() {
    if (permit_)
        permit_->withdrawn =
            Fault{FaultCode::not_permitted, "the pump was stopped for good", lane_.pump.name(), ""};
    safe_ = true;
    supervision_.note_display();
    expected_.patience_s = 0;
    co_await end_half_message();
    // The person has been sent to the own one, and no answer of another says that it stands.
    if (pump_is_another_) {
        if (stop_whoever_) static_cast<void>(co_await lane_.pump.stop());
        co_return *fault_;
    }
    Asked asked(*this);
    Outcome stopped = asked.took(co_await lane_.pump.stop());
    for (int attempt = 1; !stopped && attempt < stop_attempts; ++attempt) {
        warn("the pump did not take the command to stop (" + stopped.fault().what + ")");
        stopped = asked.took(co_await lane_.pump.stop());
    }
    // Its answer may have been that to the command before it, which nobody waits for any more and which may
    // have come over the line at the same moment.
    if (stopped && std::exchange(abandoned_, false)) stopped = asked.took(co_await lane_.pump.stop());
    if (!stopped) {
        warn("the pump did not take the command to stop (" + stopped.fault().what + ")");
        co_return stopped;
    }
    flow_mL_min_ = 0;
    if (pump_known_ && water_flowed() && supervision_.real() && !pump_cut_off_) {
        using namespace boost::asio::experimental::awaitable_operators;
        const auto look = [this]() -> Task<void> { static_cast<void>(co_await same_pump()); };
        co_await (look() || clock_.sleep_for(same_limit_s));
        if (pump_is_another_) co_return *fault_;
    }
    if (log_ != nullptr) log_->pump(clock_.now_s(), 0);
    if (warned_)
        remark(pump_unknown_ ? "Whoever answers on the link to the pump took the command to stop."
                             : "The pump took the command to stop after all.");
    co_return Done{};
}

void WaterGuard::weight(const WeightReading& reading) {
    interlocks_.weight(reading.arrived_s, reading.mass_g);
    if (std::abs(reading.mass_g - mark_g_) > expected_.rise_g) {
        mark_g_ = reading.mass_g;
        mark_s_ = reading.arrived_s;
    }
    weight_ = reading;
    // Twenty times a second from some: who waits for trouble is woken by trouble.
    if (trouble()) news_.notify();
    if (changed_) changed_();
}

std::optional<WeightReading> WaterGuard::weight_now() const {
    if (!weight_ || !(clock_.now_s() - weight_->arrived_s <= stale_s_)) return std::nullopt;
    return weight_;
}

std::optional<Fault> WaterGuard::trouble() const {
    supervision_.notice_hang();
    if (control_.requested()) return control_.requested();
    if (fault_) return fault_;
    if (log_ != nullptr && log_->failure()) return log_->failure();
    const double now_s = clock_.now_s();
    if (auto passed = interlocks_.tripped(now_s)) return passed;
    if (!flowing()) return std::nullopt;
    const double heard_s = weight_ ? std::max(weight_->arrived_s, flow_since_s_) : flow_since_s_;
    if (!(now_s - heard_s <= stale_s_)) {
        return Fault{FaultCode::no_answer,
                     "gave no reading for " + calib::fixed(now_s - heard_s, 0) + " s while water flowed",
                     lane_.balance.name(), "check its power and cable"};
    }
    if (expected_.patience_s > 0 && now_s - mark_s_ > expected_.patience_s) {
        return Fault{FaultCode::pump_not_turning,
                     "no water reached the balance for " + calib::fixed(now_s - mark_s_, 0) +
                         " s though the pump was set to " + calib::fixed(flow_mL_min_, 2) + " mL/min",
                     lane_.pump.name(),
                     "check that the pump turns, its tube, the reservoir and the gauge's funnel"};
    }
    return std::nullopt;
}

Task<void> WaterGuard::keep_pump_alive() {
    constexpr double never_s = std::numeric_limits<double>::infinity();
    const bool real = supervision_.real();
    const double limit_s = lane_.pump.own_timeout_s();
    const double feed_s = limit_s > 0 ? limit_s / 4 : never_s;
    const double pause_s = real ? std::min(feed_s, sign_of_life_s) : feed_s;
    double fed_s = clock_.now_s();
    while (limit_s > 0 || real) {
        co_await clock_.sleep_for(pause_s);
        news_.notify();  // what time alone has brought
        if (safe_ || fault_ || control_.requested() || half_link_ != nullptr) continue;
        // A question under way keeps it alive as well.
        if (questions_ > 0) continue;
        const bool watched = real && flowing();
        // However long its limit is: one that froze is to be noticed as soon as any.
        const bool feed = time_limit_armed_ &&
                          (!real || clock_.now_s() - fed_s + pause_s > feed_s || (watched && !pump_known_));
        Outcome alive = Done{};
        if (feed) {
            fed_s = clock_.now_s();
            Asked asked(*this);
            alive = asked.took(co_await lane_.pump.keep_alive());
        }
        if (alive && watched && pump_known_ && !safe_ && questions_ == 0) {
            Asked asked(*this);
            alive = asked.took(co_await lane_.pump.check_identity());
            // It was told to stop meanwhile, and the person may go on once the cable was looked after.
            if (!alive && alive.fault().code == FaultCode::garbled_answer)
                alive = Fault{FaultCode::link_lost, alive.fault().what, alive.fault().where,
                              alive.fault().remedy};
        }
        // Pre-empted by another command, which kept it alive too.
        if (alive || alive.fault().code == FaultCode::interrupted) continue;
        set_fault(alive.fault());
    }
    const auto never = clock_.make_alarm();
    for (;;) co_await never->wait_until(std::numeric_limits<double>::infinity());
}

void WaterGuard::remark(const std::string& text) {
    if (log_ != nullptr) log_->remark(clock_.now_s(), text);
}

void WaterGuard::warn(const std::string& why) {
    if (!std::exchange(warned_, true)) cry(why);
}

void WaterGuard::cry(const std::string& why) {
    const std::string text = std::string(pull_the_plug) + ": " + why + ". Dry hands, dry floor first.";
    // The person first: a disk may take its time.
    if (tell_) tell_(text);
    remark(text);
    if (log_ != nullptr) log_->keep();
}

void WaterGuard::set_fault(Fault fault) {
    if (!fault_) fault_ = std::move(fault);
    tell_change();
}

void WaterGuard::tell_change() {
    news_.notify();
    if (changed_) changed_();
}

}  // namespace tipwright::bench
