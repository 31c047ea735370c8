// Detail: one JSON object of an audit entry, keys in the order they were added. Private to report/register.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace tipwright::report {

class Detail {
public:
    Detail& text(std::string_view key, std::string_view value);  // left out when empty
    Detail& integer(std::string_view key, std::int64_t value);   // left out when 0
    Detail& real(std::string_view key, const std::optional<double>& value);
    std::string json() const { return "{" + body_ + "}"; }

private:
    void key(std::string_view name);
    std::string body_;
};

// Text of that name in such an object; empty when there is none.
std::string text_in(const std::string& detail, const char* name);
// The same for a whole number; 0 when there is none.
std::int64_t integer_in(const std::string& detail, const char* name);

}  // namespace tipwright::report
