#include "bench/instruments/asked_family.hpp"
#include "bench/instruments/scpi/instruments.hpp"

namespace tipwright::bench {

namespace {

class ScpiFamily final
    : public AskedFamily<ScpiProfile, make_scpi_pump, make_scpi_balance, make_scpi_climate> {
public:
    using AskedFamily::AskedFamily;
    StopMessages stop_messages() const override {
        if (!part->stop) return {};
        return {{part->stop->print({}) + part->send_ending}};
    }
    std::unique_ptr<Interpreter> make_interpreter(Role role) const override {
        return make_scpi_interpreter(part, role);
    }
    bool speaks_unasked(Role) const override { return false; }
    bool tells_identity() const override { return true; }
};

}  // namespace

const FamilyEntry scpi_family{
    "scpi", asked_roles,
    [](TomlTable& root, Role role, const SerialSettings&) -> std::shared_ptr<const Family> {
        return std::make_shared<ScpiFamily>(parse_scpi_profile(root, role));
    }};

}  // namespace tipwright::bench
