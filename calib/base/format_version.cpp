#include "calib/base/format_version.hpp"

#include <charconv>

#include "calib/base/text.hpp"

namespace tipwright {

namespace {

std::optional<int> number_of_version(std::string_view digits) {
    if (digits.empty() || digits.size() > 3 || (digits.size() > 1 && digits.front() == '0'))
        return std::nullopt;
    int out = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), out);
    if (error != std::errc{} || end != digits.data() + digits.size() || out < 0) return std::nullopt;
    return out;
}

}  // namespace

std::string FormatVersion::text() const {
    return std::to_string(major) + "." + std::to_string(minor);
}

std::optional<FormatVersion> format_version(std::string_view text) {
    const std::size_t point = text.find('.');
    if (point == std::string_view::npos) return std::nullopt;
    const auto major = number_of_version(text.substr(0, point));
    const auto minor = number_of_version(text.substr(point + 1));
    if (!major || !minor) return std::nullopt;
    return FormatVersion{*major, *minor};
}

Result<FormatVersion> readable_version(std::string_view said, FormatVersion newest, const std::string& what,
                                       const std::string& where) {
    const auto version = format_version(said);
    if (version && *version > newest)
        return Fault{FaultCode::unsupported_version,
                     what + " of version " + version->text() + ": it needs tipwright " + version->text() +
                         " or later, this program reads up to " + newest.text(),
                     where, "use a newer tipwright"};
    if (version && *version >= first_version) return *version;
    return Fault{FaultCode::unsupported_version,
                 what + " of version " + in_quotes(said) + ", which no release of tipwright wrote", where,
                 "this program reads " + first_version.text() +
                     (newest == first_version ? "" : " to " + newest.text()) +
                     "; make it anew with it, a record from its journal"};
}

}  // namespace tipwright
