#include "bench/page/views/fault_words.hpp"

#include <array>
#include <cctype>

namespace tipwright::page {

namespace {

constexpr std::string_view of_a_step = "step ";

bool is_english(const PageWords& words) {
    return words.language() == page_languages[0];
}

// Options of a command, as they are called here: nobody types them on a page.
std::string without_options(const PageWords& words, const std::string& text) {
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
        std::size_t end = at;
        if (text.compare(at, 2, "--") == 0)
            for (end = at + 2;
                 end < text.size() &&
                 (std::islower(static_cast<unsigned char>(text[end])) != 0 || text[end] == '-');)
                ++end;
        const std::string* word =
            end > at + 2 ? words.find("option." + text.substr(at + 2, end - at - 2)) : nullptr;
        out += word ? *word : text.substr(at, 1);
        at = word ? end : at + 1;
    }
    return out;
}

// The place as a word of [fault_place]: "pump", "step" for "step 3"; empty: a file, a field, a link.
std::string kind_of_place(const PageWords& words, const std::string& where) {
    const std::string kind = where.starts_with(of_a_step) ? "step" : where;
    return words.find("fault_place." + kind) ? kind : "";
}

std::string place_text(const PageWords& words, const std::string& where) {
    const std::string kind = kind_of_place(words, where);
    if (kind.empty()) return visible(without_options(words, where));
    return words.filled("fault_place." + kind,
                        std::array<std::pair<std::string_view, std::string>, 1>{
                            {{"n", kind == "step" ? visible(where.substr(of_a_step.size())) : ""}}});
}

struct Told {
    std::string what;
    std::string next;
};

Told told(const PageWords& words, const Fault& fault) {
    const std::string code(name_of(fault.code));
    const std::string kind = kind_of_place(words, fault.where);
    const std::string at_place = code + "_" + kind;
    const bool own = !kind.empty() && words.find("fault." + at_place);
    const std::string& key = own ? at_place : code;
    Told out{words.text("fault." + key), words.text("fault_next." + key)};
    // A sentence of a place of its own names it, and each of a run speaks of it; of a step its number is
    // still to be said.
    if (!fault.where.empty() && kind != "run" && (!own || kind == "step"))
        out.what =
            words.text("fault_said.at", {{"place", place_text(words, fault.where)}, {"text", out.what}});
    return out;
}

std::string own_words(const PageWords& words, const Fault& fault) {
    return words.text("fault_said.own_words", {{"line", fault.line()}});
}

}  // namespace

std::string fault_now(const PageWords& words, const Fault& fault) {
    const Told in_language = told(words, fault);
    if (is_english(words) && !fault.what.empty())
        return without_options(words, fault.line()) + (fault.remedy.empty() ? ". " + in_language.next : "");
    return words.text("fault_said.line", {{"what", in_language.what}, {"next", in_language.next}});
}

std::string fault_text(const PageWords& words, const Fault& fault) {
    return fault_now(words, fault) + (is_english(words) ? "" : " " + own_words(words, fault));
}

Html own_words_of(const PageWords& words, const Fault& fault) {
    Html out;
    if (!is_english(words)) out.raw("<p class=\"quiet\">").text(own_words(words, fault)).raw("</p>\n");
    return out;
}

}  // namespace tipwright::page
