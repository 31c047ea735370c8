// One instrument of whatever role, for the questions that its profile knows: what `listen --ask` puts to it.
#pragma once

#include <boost/asio/io_context.hpp>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/clock/clock.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/instruments/profile.hpp"
#include "bench/links/link.hpp"

namespace tipwright::program {

class AskedInstrument {
public:
    // Faults of make_pump and its like (bench/instruments/make.hpp).
    Outcome make(const bench::InstrumentProfile& profile, std::unique_ptr<bench::Link> link,
                 bench::Clock& clock, boost::asio::io_context& context);
    // What: identify, read, tare or stop. Nothing when it answered; usage where its role knows no such
    // question.
    bench::Task<std::optional<Fault>> ask(std::string what) const;

private:
    std::unique_ptr<bench::Pump> pump_;
    std::unique_ptr<bench::Balance> balance_;
    std::unique_ptr<bench::ClimateSensor> climate_;
    std::unique_ptr<bench::TipCounter> counter_;

    bench::Instrument& any() const;
};

// What to ask when nothing was said: an instrument that speaks only when asked would stay silent. Empty: it
// speaks.
std::vector<std::string> default_questions(const bench::InstrumentProfile& profile);

}  // namespace tipwright::program
