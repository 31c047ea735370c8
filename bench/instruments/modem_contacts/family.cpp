#include "bench/instruments/modem_contacts/instruments.hpp"

namespace tipwright::bench {

namespace {

class ModemContactsFamily final : public FamilyOf<ModemContactsProfile> {
public:
    using FamilyOf::FamilyOf;
    Result<std::unique_ptr<TipCounter>> make_tip_counter(std::unique_ptr<Link> link, Clock& clock,
                                                         boost::asio::io_context& context,
                                                         std::string name) const override {
        return make_modem_counter(part, std::move(link), clock, context, std::move(name));
    }
    // No bytes come over the inputs of a port.
    std::unique_ptr<Interpreter> make_interpreter(Role) const override { return nullptr; }
    bool speaks_unasked(Role) const override { return true; }
    bool tells_identity() const override { return false; }
};

constexpr Role roles[] = {Role::counter};

}  // namespace

const FamilyEntry modem_contacts_family{
    "modem-inputs", roles, [](TomlTable& root, Role, const SerialSettings&) -> std::shared_ptr<const Family> {
        return std::make_shared<ModemContactsFamily>(parse_modem_contacts(root));
    }};

}  // namespace tipwright::bench
