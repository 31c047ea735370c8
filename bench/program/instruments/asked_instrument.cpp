#include "bench/program/instruments/asked_instrument.hpp"

#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/make.hpp"
#include "bench/instruments/modbus/profile.hpp"

namespace tipwright::program {

namespace {

template <class T>
std::optional<Fault> fault_of(const Result<T>& result) {
    if (result) return std::nullopt;
    return result.fault();
}

}  // namespace

Outcome AskedInstrument::make(const bench::InstrumentProfile& profile, std::unique_ptr<bench::Link> link,
                              bench::Clock& clock, boost::asio::io_context& context) {
    const auto keep = [](auto made, auto& into) -> Outcome {
        if (!made) return made.fault();
        into = std::move(*made);
        return Done{};
    };
    switch (profile.role) {
        case bench::Role::pump:
            return keep(bench::make_pump(profile, std::move(link), clock, context), pump_);
        case bench::Role::balance:
            return keep(bench::make_balance(profile, std::move(link), clock, context), balance_);
        case bench::Role::climate:
            return keep(bench::make_climate_sensor(profile, std::move(link), clock, context), climate_);
        case bench::Role::counter:
            return keep(bench::make_tip_counter(profile, std::move(link), clock, context), counter_);
    }
    return Done{};
}

bench::Instrument& AskedInstrument::any() const {
    if (pump_) return *pump_;
    if (balance_) return *balance_;
    if (counter_) return *counter_;
    return *climate_;
}

bench::Task<std::optional<Fault>> AskedInstrument::ask(std::string what) const {
    if (what == "identify") {
        const Result<std::string> answer = co_await any().identify();
        co_return fault_of(answer);
    }
    if (what == "stop" && pump_) {
        const Outcome answer = co_await pump_->stop();
        co_return fault_of(answer);
    }
    if (what == "tare" && balance_) {
        const Outcome answer = co_await balance_->tare();
        co_return fault_of(answer);
    }
    if (what == "read" && balance_) {
        const Result<bench::WeightReading> answer = co_await balance_->next();
        co_return fault_of(answer);
    }
    if (what == "read" && climate_) {
        const Result<bench::ClimateReading> answer = co_await climate_->read();
        co_return fault_of(answer);
    }
    co_return Fault{
        FaultCode::usage, "this instrument cannot be asked to " + what, "--ask",
        "pump: identify, stop; balance: identify, read, tare; climate: identify, read; counter: identify"};
}

std::vector<std::string> default_questions(const bench::InstrumentProfile& profile) {
    if (profile.role == bench::Role::counter) return {};
    const auto line = profile.of<bench::LineAsciiProfile>();
    if (profile.role == bench::Role::pump) {
        const auto modbus = profile.of<bench::ModbusProfile>();
        if ((line && !line->identify.send) || (modbus && !modbus->identity)) return {};
        return {"identify"};
    }
    if (profile.role == bench::Role::balance && line && !line->read.send) return {};
    return {"read"};
}

}  // namespace tipwright::program
