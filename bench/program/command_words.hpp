// What a word of the command line names, for completion and for messages about unknown words.
#pragma once

#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace tipwright::program {

// With the options of the commands above it, which are taken anywhere. nullptr: there is none of that name.
const CLI::Option* option_named(const CLI::App* command, const std::string& name);
// Of the same those that help shows, by their long names, "--plan".
std::vector<std::string> option_names(const CLI::App* command);
// Just below it, also one that help does not show. nullptr: there is none of that name.
const CLI::App* command_named(const CLI::App& above, const std::string& name);

}  // namespace tipwright::program
