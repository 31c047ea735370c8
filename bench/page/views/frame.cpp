#include "bench/page/views/frame.hpp"

#include "bench/page/views/fault_words.hpp"
#include "bench/page/views/forms.hpp"

namespace tipwright::page {

namespace {

struct NavigationEntry {
    std::string_view screen;
    const char* path;
};
constexpr NavigationEntry navigation[] = {{"going_on", "/"},
                                          {"gauge_on", "/gauge-on"},
                                          {"certificates", "/certificates"},
                                          {"years", "/years"},
                                          {"field", "/field-check"}};

Html door(const Visitor& visitor, const PageWords& words) {
    Html out;
    if (visitor.person.empty())
        return out.raw("<p class=\"door\"><a class=\"way\"")
            .attribute("href",
                       "/log-in?next=" + url_text(visitor.path.starts_with("/log-in") ? "/" : visitor.path))
            .raw(">")
            .text(words.text("log_in.do"))
            .raw("</a></p>\n");
    return out.raw("<form class=\"door\" method=\"post\" action=\"/log-out\">")
        .add(token_of(visitor))
        .raw("<span>")
        .text(visitor.person)
        .raw("</span> <button class=\"plain\">")
        .text(words.text("log_in.out"))
        .raw("</button></form>\n");
}

Html languages(const Visitor& visitor, const PageWords& words) {
    Html out;
    out.raw("<p class=\"languages\">");
    for (const std::string_view language : page_languages) {
        out.raw("<a").attribute("lang", language).attribute("hreflang", language);
        out.attribute("href", "/language?to=" + std::string(language) + "&back=" + url_text(visitor.path));
        if (language == words.language()) out.raw(" aria-current=\"true\"");
        out.raw(">").text(language).raw("</a> ");
    }
    return out.raw("</p>\n");
}

}  // namespace

Html document_head(const PageWords& words, const std::string& title) {
    Html out;
    out.raw("<!DOCTYPE html>\n<html").attribute("lang", words.language());
    out.raw(
        ">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, "
        "initial-scale=1\">\n<meta name=\"color-scheme\" content=\"light dark\">\n<title>");
    out.text(title).raw(
        " · tipwright</title>\n<link rel=\"stylesheet\" href=\"/static/page.css\">\n"
        "<link rel=\"icon\" href=\"/static/icon.svg\">\n");
    return out;
}

Html frame(const Visitor& visitor, const PageWords& words, std::string_view screen, const std::string& title,
           const Html& main) {
    Html out = document_head(words, title);
    out.raw("<script src=\"/static/page.js\" defer></script>\n");
    // Without script what goes on loads itself anew; a form that is being filled in does not.
    if (screen == "going_on" || screen == "run")
        out.raw("<noscript><meta http-equiv=\"refresh\" content=\"5\"></noscript>\n");
    out.raw("</head>\n<body");
    out.attribute("data-screen", screen).raw(">\n<a class=\"skip\" href=\"#main\">");
    out.text(words.text("frame.skip")).raw("</a>\n<header>\n<p class=\"name\">tipwright</p>\n<nav");
    out.attribute("aria-label", words.text("frame.screens")).raw(">\n");
    for (const auto& entry : navigation) {
        if (!visitor.desk && entry.screen != "going_on") continue;
        out.raw("<a").attribute("href", entry.path);
        if (entry.screen == screen) out.raw(" aria-current=\"page\"");
        out.raw(">").text(words.text("nav." + std::string(entry.screen))).raw("</a>\n");
    }
    out.raw("</nav>\n");
    if (visitor.desk) out.add(door(visitor, words));
    if (!visitor.token.empty()) {
        out.raw("<form class=\"stop-all\" method=\"post\" action=\"/stop\">").add(token_of(visitor));
        out.raw("<button class=\"stop\">").text(words.text("command.stop_all")).raw("</button></form>\n");
    }
    out.raw("</header>\n<p id=\"link\" role=\"status\" hidden>").text(words.text("frame.link_lost"));
    out.raw("</p>\n");
    if (!visitor.trial_passphrase.empty())
        out.raw("<p class=\"trial\">").text(words.text("frame.trial")).raw("</p>\n");
    if (visitor.unlogged)
        out.raw("<div class=\"trial\" role=\"alert\"><p>")
            .text(words.text("frame.unlogged", {{"why", fault_now(words, *visitor.unlogged)}}))
            .raw("</p>\n")
            .add(own_words_of(words, *visitor.unlogged))
            .raw("</div>\n");
    out.raw("<main id=\"main\" tabindex=\"-1\">\n").add(main).raw("</main>\n<footer>\n");
    out.raw("<p>").text(words.text("frame.caution")).raw("</p>\n");
    out.raw("<p class=\"sound\" hidden><button type=\"button\" data-sound aria-pressed=\"false\">");
    out.text(words.text("frame.sound")).raw("</button></p>\n");
    return out.add(languages(visitor, words)).raw("</footer>\n</body>\n</html>\n");
}

Html notice(const PageWords& words, const std::string& sentence, const std::string& next,
            const std::string& back) {
    Html out;
    out.raw("<section class=\"notice\" role=\"alert\"><h1>").text(sentence).raw("</h1>\n<p>").text(next);
    out.raw("</p>\n");
    if (!back.empty())
        out.raw("<p><a class=\"button\"")
            .attribute("href", back)
            .raw(">")
            .text(words.text("frame.back_there"))
            .raw("</a></p>\n");
    return out.raw("<p><a class=\"button\" href=\"/\">")
        .text(words.text("frame.back"))
        .raw("</a></p></section>\n");
}

}  // namespace tipwright::page
