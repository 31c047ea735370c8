// What DeskRoutes is asked, and what its parts share: desk_routes.cpp, certificate_routes.cpp.
#pragma once

#include <charconv>
#include <utility>

#include "bench/page/http/desk_routes.hpp"
#include "bench/page/views/desk_screens.hpp"
#include "bench/page/views/fault_words.hpp"

namespace tipwright::page {

inline constexpr std::string_view draft_path = "/certificates/draft/";
inline constexpr std::string_view issued_path = "/certificates/issued/";
inline constexpr std::size_t most_passphrase = 1024;

inline std::optional<report::Id> id_of(std::string_view text) {
    report::Id out = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
    if (error != std::errc{} || end != text.data() + text.size() || out <= 0) return std::nullopt;
    return out;
}

// The rest of a path after `before`, and what stands behind its first slash.
inline std::pair<std::string, std::string> parts_after(const std::string& path, std::string_view before) {
    const std::string rest = path.substr(before.size());
    const std::size_t slash = rest.find('/');
    if (slash == std::string::npos) return {rest, ""};
    return {rest.substr(0, slash), rest.substr(slash + 1)};
}

struct DeskRoutes::Asked {
    Request request;
    const Visitor& visitor;
    const std::optional<report::Actor>& actor;
    const PageWords& words;
    const Framed& framed;

    Response told(int status, const std::string& sentence, const std::string& next) const {
        return framed("notice", sentence, notice(words, sentence, next), status);
    }
    // With the way back to the screen whose command it was.
    Response refused(const Fault& fault) const {
        const std::string before = request.path.substr(0, request.path.rfind('/'));
        // Which file the passphrase does not open helps nobody who types it.
        const std::string why =
            fault.code == FaultCode::wrong_passphrase
                ? words.text("fault.wrong_passphrase") + " " + words.text("fault_next.wrong_passphrase")
                : fault_text(words, fault);
        const std::string& sentence = words.text("notice.refused");
        return framed("notice", sentence, notice(words, sentence, why, path_within(before)), 409);
    }
    Response not_found() const {
        return told(404, words.text("notice.not_found"), words.text("notice.not_found_next"));
    }
    // What was asked for cannot be shown.
    Response unshown(const Fault& fault) const {
        return told(409, words.text("notice.not_shown"), fault_text(words, fault));
    }
    // After that back to the page the command stood on.
    Response log_in_first() const {
        const std::string before = request.path.substr(0, request.path.rfind('/'));
        return redirect_to("/log-in?next=" + url_text(before.empty() ? request.path : before));
    }
};

}  // namespace tipwright::page
