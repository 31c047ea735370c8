#include "bench/program/run/lane.hpp"

#include <algorithm>

#include "bench/instruments/make.hpp"
#include "bench/instruments/stop_messages.hpp"
#include "bench/links/link.hpp"

namespace tipwright::program {

namespace {

const bench::InstrumentDescription* with_role(const bench::BenchDescription& bench, const std::string& role) {
    const auto found =
        std::find_if(bench.instruments.begin(), bench.instruments.end(),
                     [&](const bench::InstrumentDescription& instrument) { return instrument.role == role; });
    return found == bench.instruments.end() ? nullptr : &*found;
}

// What an instrument needs to come to life.
struct Connection {
    bench::InstrumentProfile profile;
    std::unique_ptr<bench::Link> link;
};

Result<Connection> connect(boost::asio::io_context& context, const bench::BenchDescription& bench,
                           const std::string& role, bench::VirtualBench* virtual_bench,
                           const std::filesystem::path& templates) {
    const auto* described = with_role(bench, role);
    if (described == nullptr) {
        return Fault{FaultCode::missing_field, "the bench has no " + role, bench.text.name,
                     "add an [[instrument]] with role = \"" + role + "\""};
    }
    auto profile = bench::load_profile(described->profile, templates);
    if (!profile) return profile.fault();
    if (described->link == "virtual") {
        auto link = virtual_bench != nullptr ? virtual_bench->take_link(role) : nullptr;
        if (link == nullptr) {
            return Fault{FaultCode::inconsistent,
                         "the " + role + " is said to be virtual on a bench that is not", bench.text.name,
                         "give its link, or add a [virtual] table"};
        }
        virtual_bench->speak(role, *profile);
        return Connection{std::move(*profile), std::move(link)};
    }
    auto link = bench::make_link(context, described->link, profile->serial);
    if (!link) return link.fault();
    return Connection{std::move(*profile), std::move(*link)};
}

}  // namespace

bool has_virtual_links(const bench::BenchDescription& bench) {
    return std::any_of(
        bench.instruments.begin(), bench.instruments.end(),
        [](const bench::InstrumentDescription& instrument) { return instrument.link == "virtual"; });
}

Result<std::unique_ptr<bench::Pump>> connect_pump(boost::asio::io_context& context, bench::Clock& clock,
                                                  const bench::BenchDescription& bench,
                                                  const std::filesystem::path& templates,
                                                  bench::Supervision& supervision) {
    auto connection = connect(context, bench, "pump", nullptr, templates);
    if (!connection) return connection.fault();
    connection->link =
        supervision.guard(std::move(connection->link), bench::stop_messages(connection->profile));
    return bench::make_pump(connection->profile, std::move(connection->link), clock, context);
}

Result<std::unique_ptr<LaneInstruments>> LaneInstruments::make(
    boost::asio::io_context& context, bench::Clock& clock, const bench::BenchDescription& bench,
    const bench::GaugeDescription& gauge, std::uint64_t seed, const std::filesystem::path& templates,
    const bench::BenchFaults& faults, bench::Supervision* supervision) {
    auto made = std::make_unique<LaneInstruments>();
    // A virtual link without a [virtual] table is told when that instrument is connected.
    if (bench.truth && has_virtual_links(bench)) {
        if (!gauge.truth) {
            return Fault{FaultCode::missing_field, "the gauge's kind has no [virtual] table",
                         gauge.kind_text.name, "use a real bench, or say what the virtual gauge is made of"};
        }
        made->virtual_ = std::make_unique<bench::VirtualBench>(clock, context, gauge.gauge, *gauge.truth,
                                                               *bench.truth, bench.metrology, seed, faults);
    }
    const auto take = [&](const std::string& role, auto make_role, auto& into) -> Outcome {
        auto connection = connect(context, bench, role, made->virtual_.get(), templates);
        if (!connection) return connection.fault();
        if (supervision != nullptr && role == "pump") {
            connection->link =
                supervision->guard(std::move(connection->link), bench::stop_messages(connection->profile));
        }
        auto instrument = make_role(connection->profile, std::move(connection->link), clock, context, role);
        if (!instrument) return instrument.fault();
        into = std::move(*instrument);
        return Done{};
    };
    if (auto done = take("pump", bench::make_pump, made->pump_); !done) return done.fault();
    if (auto done = take("balance", bench::make_balance, made->balance_); !done) return done.fault();
    if (auto done = take("counter", bench::make_tip_counter, made->counter_); !done) return done.fault();
    if (with_role(bench, "climate") != nullptr) {
        if (auto done = take("climate", bench::make_climate_sensor, made->climate_); !done)
            return done.fault();
    }
    if (made->virtual_) made->virtual_->start();
    return made;
}

void LaneInstruments::close() {
    pump_.reset();
    balance_.reset();
    counter_.reset();
    climate_.reset();
    if (virtual_) virtual_->stop();
}

}  // namespace tipwright::program
