// A command of the command line and its options, for the files that define commands. CLI11 stands behind it:
// only the files that parse, complete and explain a command line read its headers, for each that does takes
// seconds to compile.
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace tipwright::program {

// Belongs to its subcommand. Each call returns the option itself.
class CommandOption {
public:
    explicit CommandOption(CLI::Option& option) : option_(&option) {}

    CommandOption required();
    CommandOption type_name(const std::string& name);  // what help shows in place of the value
    CommandOption group(const std::string& heading);   // in help; empty: not shown
    CommandOption description(const std::string& text);
    CommandOption environment(const std::string& variable);  // where it comes from if not given
    CommandOption show_default();                            // the value that it has now
    CommandOption one_of(const std::vector<std::string>& words);
    CommandOption in_range(int least, int most);
    CommandOption in_range(double least, double most);
    CommandOption positive();
    CommandOption values(int count);
    CommandOption values(int least, int most);
    CommandOption one_at_a_time();  // of several values each is named anew
    CommandOption needs(const std::string& other);
    CommandOption needs(const CommandOption& other);
    CommandOption excludes(const std::string& other);
    CommandOption excludes(const CommandOption& other);

    bool given() const;

private:
    CLI::Option* option_;
};

// Belongs to the command line that it was added to.
class Subcommand {
public:
    explicit Subcommand(CLI::App& app) : app_(&app) {}

    Subcommand add_subcommand(const std::string& name, const std::string& what) const;
    // Value: of the types at the end of subcommand.cpp. It gets what was given, and lives as long as the
    // command line.
    template <class Value>
    CommandOption add_option(const std::string& name, Value& value, const std::string& what = "") const;
    CommandOption add_flag(const std::string& name, bool& given, const std::string& what = "") const;

    void footer(const std::string& text) const;
    void require_one_subcommand() const;
    void on_chosen(std::function<void()> act) const;
    // Before anything is chosen; may throw what ends the reading.
    void on_read(std::function<void()> act) const;

private:
    CLI::App* app_;
};

}  // namespace tipwright::program
