#include "bench/instruments/scpi/instruments.hpp"

namespace tipwright::bench {

namespace {

class ScpiFamily final : public FamilyOf<ScpiProfile>, public PumpFamily {
public:
    using FamilyOf::FamilyOf;
    const PumpFamily* as_pump() const override { return this; }
    Result<std::unique_ptr<Pump>> make_pump(std::unique_ptr<Link> link, Clock& clock,
                                            boost::asio::io_context& context,
                                            std::string name) const override {
        return make_scpi_pump(part, std::move(link), clock, context, std::move(name));
    }
    std::vector<std::string> stop_messages() const override {
        if (!part->stop) return {};
        return {part->stop->print({}) + part->send_ending};
    }
    Result<std::unique_ptr<Balance>> make_balance(std::unique_ptr<Link> link, Clock& clock,
                                                  boost::asio::io_context& context,
                                                  std::string name) const override {
        return make_scpi_balance(part, std::move(link), clock, context, std::move(name));
    }
    Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(std::unique_ptr<Link> link, Clock& clock,
                                                               boost::asio::io_context& context,
                                                               std::string name) const override {
        return make_scpi_climate(part, std::move(link), clock, context, std::move(name));
    }
    std::unique_ptr<Interpreter> make_interpreter(Role role) const override {
        return make_scpi_interpreter(part, role);
    }
    bool speaks_unasked(Role) const override { return false; }
    bool tells_identity() const override { return true; }
};

constexpr Role roles[] = {Role::pump, Role::balance, Role::climate};

}  // namespace

const FamilyEntry scpi_family{
    "scpi", roles, [](TomlTable& root, Role role, const SerialSettings&) -> std::shared_ptr<const Family> {
        return std::make_shared<ScpiFamily>(parse_scpi_profile(root, role));
    }};

}  // namespace tipwright::bench
