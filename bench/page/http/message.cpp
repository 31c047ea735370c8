#include "bench/page/http/message.hpp"

#include <utf8.h>

#include <algorithm>
#include <cctype>

#include "bench/page/views/page_words.hpp"
#include "calib/base/ascii.hpp"
#include "calib/base/text.hpp"

namespace tipwright::page {

namespace {

constexpr std::size_t most_fields = 64;

}  // namespace

std::string field_of(const Fields& fields, std::string_view name) {
    const auto found = fields.find(name);
    return found == fields.end() ? "" : found->second;
}

std::string device_of(const Request& request) {
    return request.device_name.empty() ? request.device : request.device_name + " at " + request.device;
}

std::optional<std::string> decoded(std::string_view text, bool plus) {
    std::string out;
    for (std::size_t at = 0; at < text.size(); ++at) {
        char c = text[at];
        if (c == '%') {
            if (at + 2 >= text.size()) return std::nullopt;
            const int high = hex_value(text[at + 1]);
            const int low = hex_value(text[at + 2]);
            if (high < 0 || low < 0) return std::nullopt;
            c = static_cast<char>(16 * high + low);
            at += 2;
        } else if (plus && c == '+') {
            c = ' ';
        }
        if (c == '\0') return std::nullopt;
        out += c;
    }
    if (!utf8::is_valid(out.begin(), out.end())) return std::nullopt;
    return out;
}

std::optional<Fields> fields_of(std::string_view text) {
    Fields out;
    std::size_t count = 0;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('&'), text.size());
        const std::string_view pair = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (pair.empty()) continue;
        if (++count > most_fields) return std::nullopt;
        const std::size_t equals = std::min(pair.find('='), pair.size());
        const auto name = decoded(pair.substr(0, equals), true);
        const auto value = decoded(pair.substr(std::min(equals + 1, pair.size())), true);
        if (!name || !value) return std::nullopt;
        out[*name] = *value;
    }
    return out;
}

bool take_target(std::string_view target, Request& request) {
    if (target.empty() || target.front() != '/') return false;
    const std::size_t question = std::min(target.find('?'), target.size());
    const auto path = decoded(target.substr(0, question), false);
    const auto query = fields_of(target.substr(std::min(question + 1, target.size())));
    if (!path || !query) return false;
    request.path = *path;
    request.query = *query;
    return true;
}

Fields cookies_of(std::string_view header) {
    Fields out;
    while (!header.empty() && out.size() < most_fields) {
        const std::size_t end = std::min(header.find(';'), header.size());
        const std::string_view pair = trimmed(header.substr(0, end));
        header.remove_prefix(std::min(end + 1, header.size()));
        const std::size_t equals = pair.find('=');
        if (equals == std::string_view::npos || equals == 0) continue;
        // The first of a name counts: one that another page set for a wider path comes later.
        out.emplace(pair.substr(0, equals), pair.substr(equals + 1));
    }
    return out;
}

bool host_known(const Names& names, const Request& request) {
    const std::string host = small_letters(request.host);
    return request.has_host && std::find(names.hosts.begin(), names.hosts.end(), host) != names.hosts.end();
}

bool origin_known(const Names& names, const Request& request) {
    if (request.origin.empty()) return request.fetch_site == "same-origin";
    const std::string scheme = names.encrypted ? "https://" : "http://";
    const std::string origin = small_letters(request.origin);
    return origin == scheme + small_letters(request.host);
}

std::string language_of(const Request& request) {
    const auto known = [](std::string_view language) {
        return std::find(std::begin(page_languages), std::end(page_languages), language) !=
               std::end(page_languages);
    };
    const auto cookie = request.cookies.find("language");
    if (cookie != request.cookies.end() && known(cookie->second)) return cookie->second;
    std::string_view rest = request.accept_language;
    while (!rest.empty()) {
        const std::size_t end = std::min(rest.find(','), rest.size());
        std::string one = small_letters(trimmed(rest.substr(0, end)).substr(0, 2));
        rest.remove_prefix(std::min(end + 1, rest.size()));
        if (known(one)) return one;
    }
    return "en";
}

std::vector<std::pair<std::string, std::string>> safety_headers() {
    // No Strict-Transport-Security: it would speak for whatever else the machine serves under the same name.
    return {
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
         "form-action 'self'; manifest-src 'self'; worker-src 'self'; frame-src 'self'; object-src 'none'; "
         "base-uri 'none'; frame-ancestors 'self'"},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "same-origin"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Permissions-Policy", "camera=(self), microphone=(), geolocation=(), payment=(), usb=()"},
    };
}

}  // namespace tipwright::page
