#include "bench/program/complete.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <system_error>

#include "bench/program/command_words.hpp"
#include "bench/program/run/work_folder.hpp"
#include "calib/base/text.hpp"
#include "report/register/serials.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t listed_max = 200;

struct Place {
    const CLI::App* app;
    const CLI::Option* waiting = nullptr;  // an option whose value comes next
    std::size_t positionals = 0;           // that stand before
};

Place place_after(const CLI::App& app, const std::vector<std::string>& words) {
    Place place{&app};
    for (std::size_t i = 0; i + 1 < words.size(); ++i) {
        const std::string& word = words[i];
        const bool option = word.size() > 1 && word.front() == '-';
        if (place.waiting != nullptr && !option) {
            if (place.waiting->get_items_expected_max() <= 1) place.waiting = nullptr;
            continue;
        }
        place.waiting = nullptr;
        if (option) {
            const CLI::Option* found = option_named(place.app, word);
            if (found != nullptr && found->get_items_expected_max() > 0) place.waiting = found;
        } else if (const CLI::App* below = command_named(*place.app, word)) {
            place.app = below;
            place.positionals = 0;
        } else {
            ++place.positionals;
        }
    }
    return place;
}

std::vector<std::string> names_of(const fs::path& folder) {
    std::vector<std::string> out;
    std::error_code error;
    for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error))
        if (it->path().extension() == ".toml") out.push_back(it->path().stem().string());
    return out;
}

void add(std::vector<std::string>& out, const std::vector<std::string>& more) {
    out.insert(out.end(), more.begin(), more.end());
}

// The closed list of what an option takes, out of the words of its check: "TEXT:{A4,Letter}".
std::vector<std::string> closed_list(const CLI::Option& option) {
    std::vector<std::string> out;
    const std::string type = option.get_type_name();
    const std::size_t begin = type.find(":{");
    const std::size_t end = type.find('}', begin);
    if (begin == std::string::npos || end == std::string::npos) return out;
    std::string one;
    for (std::size_t i = begin + 2; i <= end; ++i) {
        if (type[i] != ',' && i != end) {
            one += type[i];
            continue;
        }
        out.push_back(one);
        one.clear();
    }
    return out;
}

bool holds(const std::string& text, const char* word) {
    return text.find(word) != std::string::npos;
}

// Runs that did not come to their end, and the serials they go by.
std::vector<std::string> unfinished_runs(const fs::path& work) {
    std::vector<std::string> out;
    for (const KeptRun& run : all_kept_runs(work))
        if (!run.complete) add(out, {run.serial, run.folder.string()});
    return out;
}

// A word as a shell would take it, typed so far: shells hand it over with its quotes and backslashes. Nothing
// in it is expanded.
std::string unquoted(const std::string& word) {
    std::string out;
    char quote = 0;
    for (std::size_t i = 0; i < word.size(); ++i) {
        const char c = word[i];
        if (quote == 0 && (c == '\'' || c == '"'))
            quote = c;
        else if (c == quote && quote != 0)
            quote = 0;
        else if (c == '\\' && quote != '\'' && i + 1 < word.size())
            out += word[++i];
        else if (c != '\\' || quote == '\'')
            out += c;
    }
    return out;
}

// What the register knows that this command may be about.
std::vector<report::Listed> listed_for(const CLI::App& command, const std::string& name, bool positional,
                                       const std::string& type) {
    using report::Listed;
    const std::string& verb = command.get_name();
    const CLI::App* group = command.get_parent();
    if (name == "person") return {Listed::people};
    if (name == "customer") return {Listed::customers};
    if (positional && (name == "certificate" || name == "certificates")) return {Listed::certificates};
    if (positional && name == "which") return {Listed::certificates, Listed::drafts, Listed::checked_drafts};
    if (positional && (name == "draft" || name == "drafts")) {
        if (verb == "check") return {Listed::drafts};
        if (verb == "issue") return {Listed::checked_drafts};
        return {Listed::drafts, Listed::checked_drafts};
    }
    const bool serial = holds(name, "serial") || holds(type, "SERIAL") || (name == "gauge" && positional);
    if (!serial) return {};
    const bool of_instrument =
        name == "instrument" || (group != nullptr && group->get_name() == "instrument");
    return {of_instrument ? Listed::instrument_serials : Listed::gauge_serials};
}

std::vector<std::string> values_of(const CLI::App& command, const CLI::Option& option,
                                   const std::string& prefix, const WhereNamesAre& where) {
    std::vector<std::string> out = closed_list(option);
    if (!out.empty()) return out;
    const fs::path& templates = where.templates;
    const bool positional = option.get_lnames().empty() && option.get_snames().empty();
    const std::string name = positional                    ? option.get_name(true)
                             : option.get_lnames().empty() ? ""
                                                           : option.get_lnames().front();
    const std::string lower = small_letters(name);
    if (lower == "bench") add(out, names_of(templates / "benches"));
    if (lower == "plan") add(out, names_of(templates / "plans"));
    if (lower == "limits") add(out, names_of(templates / "limits"));
    if (lower == "profile") add(out, names_of(templates / "instruments"));
    if (lower == "lanes") add(out, names_of(templates / "lanes"));
    if (lower == "kind") add(out, names_of(templates / "gauge_kinds"));
    if (lower == "language") add(out, {"de", "en", "es", "fr"});
    if (lower == "gauge") {
        add(out, names_of(templates / "gauges"));
        add(out, names_of(templates / "gauge_kinds"));
    }
    if (command.get_name() == "recover" && positional) return unfinished_runs(where.work);
    for (const report::Listed what : listed_for(command, lower, positional, option.get_type_name()))
        add(out, report::listed(what, where.location, prefix, listed_max));
    return out;
}

std::vector<const CLI::Option*> positionals_of(const CLI::App& app) {
    std::vector<const CLI::Option*> out;
    for (const CLI::Option* option : app.get_options([](const CLI::Option*) { return true; }))
        if (option->get_positional() && option->get_lnames().empty() && option->get_snames().empty())
            out.push_back(option);
    return out;
}

}  // namespace

std::vector<std::string> candidates(const CLI::App& app, const std::vector<std::string>& words,
                                    const WhereNamesAre& where) {
    const std::string typed = words.empty() ? "" : unquoted(words.back());
    const Place place = place_after(app, words);
    std::vector<std::string> all;
    if (!typed.empty() && typed.front() == '-') {
        all = option_names(place.app);
    } else if (place.waiting != nullptr) {
        all = values_of(*place.app, *place.waiting, typed, where);
    } else {
        for (const CLI::App* one : place.app->get_subcommands([](const CLI::App*) { return true; }))
            if (!one->get_group().empty()) all.push_back(one->get_name());
        const auto positionals = positionals_of(*place.app);
        if (!positionals.empty())
            add(all, values_of(*place.app, *positionals[std::min(place.positionals, positionals.size() - 1)],
                               typed, where));
    }
    std::erase_if(all, [&](const std::string& one) { return !one.starts_with(typed); });
    std::sort(all.begin(), all.end());
    all.erase(std::unique(all.begin(), all.end()), all.end());
    return all;
}

}  // namespace tipwright::program
