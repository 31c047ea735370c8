#include "bench/instruments/line_ascii/instruments.hpp"
#include "bench/instruments/line_ascii/profile.hpp"

namespace tipwright::bench {

namespace {

class LineAsciiFamily final : public FamilyOf<LineAsciiProfile>, public PumpFamily {
public:
    using FamilyOf::FamilyOf;
    const PumpFamily* as_pump() const override { return this; }
    Result<std::unique_ptr<Pump>> make_pump(std::unique_ptr<Link> link, Clock& clock,
                                            boost::asio::io_context& context,
                                            std::string name) const override {
        return make_line_pump(part, std::move(link), clock, context, std::move(name));
    }
    std::vector<std::string> stop_messages() const override {
        if (!part->stop.send) return {};
        return {part->stop.send->print({}) + part->send_ending};
    }
    Result<std::unique_ptr<Balance>> make_balance(std::unique_ptr<Link> link, Clock& clock,
                                                  boost::asio::io_context& context,
                                                  std::string name) const override {
        return make_line_balance(part, std::move(link), clock, context, std::move(name));
    }
    Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(std::unique_ptr<Link> link, Clock& clock,
                                                               boost::asio::io_context& context,
                                                               std::string name) const override {
        return make_line_climate(part, std::move(link), clock, context, std::move(name));
    }
    std::unique_ptr<Interpreter> make_interpreter(Role role) const override {
        return make_line_ascii_interpreter(part, role);
    }
    bool speaks_unasked(Role role) const override { return role == Role::balance && !part->read.send; }
    bool tells_identity() const override { return part->identify.send.has_value(); }
};

constexpr Role roles[] = {Role::pump, Role::balance, Role::climate};

}  // namespace

const FamilyEntry line_ascii_family{
    "line-ascii", roles,
    [](TomlTable& root, Role role, const SerialSettings&) -> std::shared_ptr<const Family> {
        return std::make_shared<LineAsciiFamily>(parse_line_ascii(root, role));
    }};

}  // namespace tipwright::bench
