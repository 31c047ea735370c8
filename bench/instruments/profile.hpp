// Instrument profile: what a TOML file in templates/instruments says of an instrument: how to ask it and
// how to read it. The envelope common to all families stands here, the rest with its family.
// Errors name file, line and column. See templates/instruments/README.md for the notation.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <variant>

#include "bench/descriptions/description_text.hpp"
#include "bench/links/serial_settings.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct LineAsciiProfile;
struct ModbusProfile;
struct ScpiProfile;
struct TipCounterProfile;
struct ModemContactsProfile;

enum class Role { pump, balance, counter, climate };
std::string_view name_of(Role role);

struct InstrumentProfile {
    std::string title;
    Role role{};
    SerialSettings serial;
    // The family's part.
    std::variant<std::shared_ptr<const LineAsciiProfile>, std::shared_ptr<const ModbusProfile>,
                 std::shared_ptr<const ScpiProfile>, std::shared_ptr<const TipCounterProfile>,
                 std::shared_ptr<const ModemContactsProfile>>
        family;
    DescriptionText text;

    // Null when of another family.
    template <class Family>
    std::shared_ptr<const Family> of() const {
        const auto* held = std::get_if<std::shared_ptr<const Family>>(&family);
        return held ? *held : nullptr;
    }
};

Result<InstrumentProfile> parse_profile(const DescriptionText& text);
// A file, or the name of one in the folder instruments/ of the templates.
Result<InstrumentProfile> load_profile(const std::string& file_or_name,
                                       const std::filesystem::path& templates);

}  // namespace tipwright::bench
