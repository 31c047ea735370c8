#include "bench/instruments/tip_counter/instruments.hpp"

namespace tipwright::bench {

namespace {

class TipCounterFamily final : public FamilyOf<TipCounterProfile> {
public:
    using FamilyOf::FamilyOf;
    Result<std::unique_ptr<TipCounter>> make_tip_counter(std::unique_ptr<Link> link, Clock& clock,
                                                         boost::asio::io_context& context,
                                                         std::string name) const override {
        return make_line_counter(part, std::move(link), clock, context, std::move(name));
    }
    std::unique_ptr<Interpreter> make_interpreter(Role) const override {
        return make_tip_counter_interpreter();
    }
    bool speaks_unasked(Role) const override { return true; }
    bool tells_identity() const override { return part->answers_identity; }
};

constexpr Role roles[] = {Role::counter};

}  // namespace

const FamilyEntry tip_counter_family{
    "tip-counter", roles, [](TomlTable& root, Role, const SerialSettings&) -> std::shared_ptr<const Family> {
        return std::make_shared<TipCounterFamily>(parse_tip_counter(root));
    }};

}  // namespace tipwright::bench
