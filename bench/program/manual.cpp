#include "bench/program/manual.hpp"

#include <CLI/CLI.hpp>
#include <map>

#include "bench/program/version.hpp"
#include "calib/base/joined.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

// Text as roff takes it: nothing in it is a request or an escape.
std::string roff(const std::string& text) {
    std::string out;
    bool at_line_start = true;
    for (const char c : text) {
        if (at_line_start && (c == '.' || c == '\'')) out += "\\&";
        at_line_start = c == '\n';
        if (c == '\\')
            out += "\\e";
        else if (c == '-')
            out += "\\-";
        else
            out += c;
    }
    return out;
}

std::string bold(const std::string& text) {
    return "\\fB" + roff(text) + "\\fR";
}

std::string slanted(const std::string& text) {
    return "\\fI" + roff(text) + "\\fR";
}

std::string upper(std::string text) {
    for (char& c : text)
        if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    return text;
}

bool hidden(const CLI::App& app) {
    return app.get_group().empty();
}

std::vector<const CLI::App*> shown_subcommands(const CLI::App& app) {
    std::vector<const CLI::App*> out;
    for (const CLI::App* one : app.get_subcommands([](const CLI::App*) { return true; }))
        if (!hidden(*one)) out.push_back(one);
    return out;
}

std::vector<const CLI::Option*> shown_options(const CLI::App& app) {
    std::vector<const CLI::Option*> out;
    for (const CLI::Option* one : app.get_options([](const CLI::Option*) { return true; }))
        if (!one->get_group().empty()) out.push_back(one);
    return out;
}

// Sentences start with a capital and end without a point in --help; NAME wants the first alone.
std::string first_sentence(std::string text) {
    for (char& c : text)
        if (c == '\n') c = ' ';
    const std::size_t end = text.find(": ");
    const std::size_t dot = text.find(". ");
    return text.substr(0, std::min(end, dot));
}

// The type alone, in a word for people: "FLOAT:FLOAT in [0.1 - 100]" is a NUMBER.
std::string placeholder(const CLI::Option& option) {
    const std::string type = option.get_type_name();
    const std::string word = type.substr(0, type.find(':'));
    return word == "FLOAT" ? "NUMBER" : word == "INT" || word == "UINT" ? "N" : word;
}

// What its check allows, "0.1 to 100" or "A4, Letter"; empty without one.
std::string allowed(const CLI::Option& option) {
    const std::string type = option.get_type_name();
    const std::size_t colon = type.find(':');
    if (colon == std::string::npos) return "";
    std::string out;
    bool inside = false;
    for (std::size_t i = colon + 1; i < type.size(); ++i) {
        const char c = type[i];
        if (c == '[' || c == '{') {
            inside = true;
        } else if (c == ']' || c == '}') {
            break;
        } else if (inside && type.compare(i, 3, " - ") == 0) {
            out += " to ";
            i += 2;
        } else if (inside) {
            out += c;
            if (c == ',') out += ' ';
        }
    }
    return out;
}

std::string heading_of(const CLI::Option& option) {
    std::string names;
    for (const std::string& name : option.get_snames()) add_part(names, bold("-" + name), ", ");
    for (const std::string& name : option.get_lnames()) add_part(names, bold("--" + name), ", ");
    if (names.empty())
        return slanted(option.get_name(true)) + (option.get_items_expected_max() > 1 ? " ..." : "");
    if (option.get_items_expected_max() == 0) return names;
    return names + " " + slanted(placeholder(option)) + (option.get_items_expected_max() > 1 ? " ..." : "");
}

std::string options_of(const CLI::App& app) {
    std::map<std::string, std::string> groups;
    std::vector<std::string> order;
    for (const CLI::Option* option : shown_options(app)) {
        const bool positional = option->get_lnames().empty() && option->get_snames().empty();
        const std::string group = positional ? "Arguments" : option->get_group();
        if (groups.find(group) == groups.end()) order.push_back(group);
        std::string& text = groups[group];
        text += ".TP\n" + heading_of(*option) + "\n" + roff(option->get_description());
        if (const std::string values = allowed(*option); !values.empty()) text += roff(": " + values);
        if (!option->get_default_str().empty()) text += roff(" (default: " + option->get_default_str() + ")");
        if (option->get_required()) text += " (required)";
        if (!option->get_envname().empty()) text += " (environment: " + bold(option->get_envname()) + ")";
        text += "\n";
    }
    std::string out;
    for (const std::string& group : order) out += ".SH " + roff(upper(group)) + "\n" + groups[group];
    return out;
}

std::string synopsis_of(const CLI::App& app, const std::string& words) {
    std::string out = ".SH SYNOPSIS\n" + bold(words);
    bool any = false;
    for (const CLI::Option* option : shown_options(app)) {
        const bool positional = option->get_lnames().empty() && option->get_snames().empty();
        if (positional) continue;
        if (option->get_required())
            out += " " + heading_of(*option);
        else
            any = true;
    }
    if (any) out += " [" + slanted("OPTIONS") + "]";
    for (const CLI::Option* option : shown_options(app)) {
        if (!option->get_lnames().empty() || !option->get_snames().empty()) continue;
        const std::string name = heading_of(*option);
        out += option->get_required() ? " " + name : " [" + name + "]";
    }
    if (!shown_subcommands(app).empty()) out += " " + slanted("COMMAND") + " ...";
    return out + "\n";
}

void collect_environment(const CLI::App& app, std::map<std::string, std::string>& found) {
    for (const CLI::Option* option : shown_options(app))
        if (!option->get_envname().empty() && !option->get_lnames().empty())
            found.emplace(option->get_envname(), "--" + option->get_lnames().front());
    for (const CLI::App* one : shown_subcommands(app)) collect_environment(*one, found);
}

std::string dashed(std::string words) {
    for (char& c : words)
        if (c == ' ') c = '-';
    return words;
}

// Whole lines as they stand.
std::string as_it_stands(const std::string& text) {
    return ".nf\n" + roff(text) + (text.empty() || text.back() != '\n' ? "\n" : "") + ".fi\n";
}

void add_pages(const CLI::App& app, const std::string& words, std::vector<ManualPage>& pages) {
    const bool root = pages.empty();
    const std::string name = dashed(words);
    std::string page = ".TH " + roff(upper(name)) + " 1 \"\" \"tipwright " + version() + "\" \"tipwright\"\n";
    page += ".SH NAME\n" + roff(name) + " \\- " + roff(first_sentence(app.get_description())) + "\n";
    page += synopsis_of(app, words);
    std::string description = app.get_description();
    for (char& c : description)
        if (c == '\n') c = ' ';
    page += ".SH DESCRIPTION\n" + roff(description) + (description.ends_with('.') ? "\n" : ".\n");
    const auto commands = shown_subcommands(app);
    if (!commands.empty()) {
        page += ".SH COMMANDS\n";
        for (const CLI::App* one : commands)
            page +=
                ".TP\n" + bold(words + " " + one->get_name()) + "\n" + roff(one->get_description()) + "\n";
    }
    page += options_of(app);
    if (!app.get_footer().empty()) page += ".SH NOTES\n" + as_it_stands(app.get_footer());
    if (root) {
        std::map<std::string, std::string> environment;
        collect_environment(app, environment);
        page += ".SH ENVIRONMENT\n";
        for (const auto& [variable, option] : environment)
            page += ".TP\n" + bold(variable) + "\nwhere " + bold(option) + " is not given\n";
        page += ".TP\n" + bold("TIPWRIGHT_TRIAL_NOW") +
                "\nthe time of a trial, as 2031\\-05\\-04T10:11:12Z; only invented gauges get certificates "
                "then\n";
    }
    page += ".SH SEE ALSO\n";
    std::string also;
    const auto mention = [&](const std::string& which, char section) {
        also += (also.empty() ? "" : ",\n") + (".BR " + roff(which)) + " (" + section + ")";
    };
    for (const CLI::App* one : commands) mention(name + "-" + one->get_name(), '1');
    if (!root) mention(name.substr(0, name.rfind('-')), '1');
    mention("tipwright-workshop", '7');
    for (const char* format : {"tipwright-files", "tipwright-settings", "tipwright-formats",
                               "tipwright-profiles", "tipwright-journal", "tipwright-tables"})
        mention(format, '5');
    // .BR takes the comma as its last word.
    std::string lines;
    for (const char c : also) {
        if (c == ',') {
            lines += " ,";
            continue;
        }
        lines += c;
    }
    page += lines + "\n";
    pages.push_back({name, page});
    for (const CLI::App* one : commands) add_pages(*one, words + " " + one->get_name(), pages);
}

}  // namespace

std::vector<ManualPage> manual_pages(const CLI::App& app) {
    std::vector<ManualPage> pages;
    add_pages(app, app.get_name(), pages);
    return pages;
}

Outcome write_manual(const CLI::App& app, const std::filesystem::path& folder) {
    for (const ManualPage& page : manual_pages(app))
        if (Outcome written = write_file(folder / (page.name + ".1"), page.text); !written) return written;
    return Done{};
}

}  // namespace tipwright::program
