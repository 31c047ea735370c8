// Instrument profile: what a TOML file in templates/instruments says of an instrument: how to ask it and
// how to read it. The envelope common to all families stands here, the rest with its family.
// Errors name file, line and column. See templates/instruments/README.md for the notation.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "bench/descriptions/description_text.hpp"
#include "bench/instruments/family.hpp"
#include "bench/links/serial_settings.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct InstrumentProfile {
    std::string title;
    Role role{};
    SerialSettings serial;
    std::shared_ptr<const Family> family;  // its part of the profile; never null in one that was read
    DescriptionText text;

    // The part of that family; null when of another.
    template <class Part>
    std::shared_ptr<const Part> of() const {
        const auto held = std::dynamic_pointer_cast<const FamilyOf<Part>>(family);
        return held ? held->part : nullptr;
    }
};

Result<InstrumentProfile> parse_profile(const DescriptionText& text);
// A file, or the name of one in the folder instruments/ of the templates.
Result<InstrumentProfile> load_profile(const std::string& file_or_name,
                                       const std::filesystem::path& templates);

}  // namespace tipwright::bench
