#include "bench/instruments/asked_family.hpp"
#include "bench/instruments/line_ascii/instruments.hpp"
#include "bench/instruments/line_ascii/profile.hpp"

namespace tipwright::bench {

namespace {

class LineAsciiFamily final
    : public AskedFamily<LineAsciiProfile, make_line_pump, make_line_balance, make_line_climate> {
public:
    using AskedFamily::AskedFamily;
    StopMessages stop_messages() const override {
        if (!part->stop.send) return {};
        return {{part->stop.send->print({}) + part->send_ending}};
    }
    std::unique_ptr<Interpreter> make_interpreter(Role role) const override {
        return make_line_ascii_interpreter(part, role);
    }
    bool speaks_unasked(Role role) const override { return role == Role::balance && !part->read.send; }
    bool tells_identity() const override { return part->identify.send.has_value(); }
};

}  // namespace

const FamilyEntry line_ascii_family{
    "line-ascii", asked_roles,
    [](TomlTable& root, Role role, const SerialSettings&) -> std::shared_ptr<const Family> {
        return std::make_shared<LineAsciiFamily>(parse_line_ascii(root, role));
    }};

}  // namespace tipwright::bench
