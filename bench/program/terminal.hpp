// Terminal: the one way by which anything reaches standard output or error. Whatever comes from a file, an
// instrument, the register or the command line is shown by visible() (calib/base/fault.hpp): control,
// bidirectional and zero-width characters stand there as escapes, so that no name draws over a line or forges
// one. A test walks the sources for other ways.
#pragma once

#include <cstddef>
#include <cstdio>
#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>
#include <type_traits>

#include "calib/base/fault.hpp"

namespace tipwright::program {

// Text that this program drew itself, moves of the cursor included; what came from outside was made visible
// before.
struct Drawn {
    std::string text;
};

namespace printing {

template <class T>
constexpr char kind_of() {
    if constexpr (std::is_same_v<T, Drawn> || std::is_same_v<T, std::filesystem::path> ||
                  std::is_convertible_v<const T&, std::string_view>)
        return 's';
    else if constexpr (std::is_floating_point_v<T>)
        return 'f';
    else if constexpr (std::is_integral_v<T>)
        return 'd';
    else
        return '?';
}

// Stops the compilation: a conversion of the format does not fit its argument.
void format_does_not_fit();

// A printf format held against its arguments while it is compiled.
template <class... Args>
struct Format {
    const char* text;
    consteval Format(const char* format) : text(format) {
        constexpr std::size_t count = sizeof...(Args);
        const char kinds[count + 1] = {kind_of<Args>()..., 0};
        std::size_t next = 0;
        const auto take = [&](char kind) {
            if (next >= count || kinds[next++] != kind) format_does_not_fit();
        };
        for (const char* at = format; *at != 0; ++at) {
            if (*at != '%') continue;
            if (*++at == '%') continue;
            for (; std::string_view("-+ #0123456789.*lhz").find(*at) != std::string_view::npos; ++at)
                if (*at == '*') take('d');
            const std::string_view whole("dux");
            take(*at == 's' ? 's' : whole.find(*at) != std::string_view::npos ? 'd' : 'f');
        }
        if (next != count) format_does_not_fit();
    }
};

// Holds the visible text of an argument for as long as it is printed.
template <class T>
class Argument {
public:
    explicit Argument(const T& value) {
        if constexpr (std::is_same_v<T, Drawn>)
            shown_ = value.text;
        else if constexpr (std::is_same_v<T, std::filesystem::path>)
            shown_ = visible(value.string());
        else if constexpr (kind_of<T>() == 's')
            shown_ = visible(std::string_view(value));
        else
            shown_ = value;
    }
    auto get() const {
        if constexpr (kind_of<T>() == 's')
            return shown_.c_str();
        else
            return shown_;
    }

private:
    std::conditional_t<kind_of<T>() == 's', std::string, T> shown_;
};

[[gnu::format(printf, 2, 0)]] void put(std::FILE* out, const char* format, ...);

}  // namespace printing

// As fprintf; each text among the arguments is made visible.
template <class... Args>
void print_to(std::FILE* out, printing::Format<std::type_identity_t<std::decay_t<Args>>...> format,
              const Args&... args) {
    printing::put(out, format.text, printing::Argument<std::decay_t<const Args>>(args).get()...);
}

// Several lines, each made visible; with a line feed at their end.
void print_lines(std::FILE* out, std::string_view lines);
// One JSON document on standard output: text that is no UTF-8 replaced, hidden characters as \u escapes.
void print_json(const nlohmann::ordered_json& document);
// The same of a document that was serialized already.
void print_json_text(std::string_view document);

// Characters that fit into a line of the terminal the stream leads to; 99 where its width is not known.
std::size_t line_width(int descriptor);

// The first characters of UTF-8 text, none cut through.
std::string first_characters(const std::string& text, std::size_t count);

}  // namespace tipwright::program
