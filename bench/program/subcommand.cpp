#include "bench/program/subcommand.hpp"

#include <CLI/CLI.hpp>
#include <cstdint>
#include <optional>
#include <utility>

namespace tipwright::program {

CommandOption CommandOption::required() {
    option_->required();
    return *this;
}

CommandOption CommandOption::type_name(const std::string& name) {
    option_->type_name(name);
    return *this;
}

CommandOption CommandOption::group(const std::string& heading) {
    option_->group(heading);
    return *this;
}

CommandOption CommandOption::description(const std::string& text) {
    option_->description(text);
    return *this;
}

CommandOption CommandOption::environment(const std::string& variable) {
    option_->envname(variable);
    return *this;
}

CommandOption CommandOption::show_default() {
    option_->capture_default_str();
    return *this;
}

CommandOption CommandOption::one_of(const std::vector<std::string>& words) {
    option_->check(CLI::IsMember(words));
    return *this;
}

CommandOption CommandOption::in_range(int least, int most) {
    option_->check(CLI::Range(least, most));
    return *this;
}

CommandOption CommandOption::in_range(double least, double most) {
    option_->check(CLI::Range(least, most));
    return *this;
}

CommandOption CommandOption::positive() {
    option_->check(CLI::PositiveNumber);
    return *this;
}

CommandOption CommandOption::values(int count) {
    option_->expected(count);
    return *this;
}

CommandOption CommandOption::values(int least, int most) {
    option_->expected(least, most);
    return *this;
}

CommandOption CommandOption::one_at_a_time() {
    option_->allow_extra_args(false);
    return *this;
}

CommandOption CommandOption::needs(const std::string& other) {
    option_->needs(other);
    return *this;
}

CommandOption CommandOption::needs(const CommandOption& other) {
    option_->needs(other.option_);
    return *this;
}

CommandOption CommandOption::excludes(const std::string& other) {
    option_->excludes(other);
    return *this;
}

CommandOption CommandOption::excludes(const CommandOption& other) {
    option_->excludes(other.option_);
    return *this;
}

bool CommandOption::given() const {
    return option_->count() > 0;
}

Subcommand Subcommand::add_subcommand(const std::string& name, const std::string& what) const {
    return Subcommand(*app_->add_subcommand(name, what));
}

template <class Value>
CommandOption Subcommand::add_option(const std::string& name, Value& value, const std::string& what) const {
    return CommandOption(*app_->add_option(name, value, what));
}

CommandOption Subcommand::add_flag(const std::string& name, bool& given, const std::string& what) const {
    return CommandOption(*app_->add_flag(name, given, what));
}

void Subcommand::footer(const std::string& text) const {
    app_->footer(text);
}

void Subcommand::require_one_subcommand() const {
    app_->require_subcommand(1);
}

void Subcommand::on_chosen(std::function<void()> act) const {
    app_->callback(std::move(act));
}

void Subcommand::on_read(std::function<void()> act) const {
    app_->parse_complete_callback(std::move(act));
}

template CommandOption Subcommand::add_option(const std::string&, std::string&, const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::filesystem::path&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, double&, const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, int&, const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::int64_t&, const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::uint16_t&, const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::uint64_t&, const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::optional<bool>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::optional<double>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::optional<int>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::optional<std::string>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::optional<std::uint64_t>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::vector<double>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::vector<std::int64_t>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::vector<std::string>&,
                                              const std::string&) const;
template CommandOption Subcommand::add_option(const std::string&, std::vector<std::filesystem::path>&,
                                              const std::string&) const;

}  // namespace tipwright::program
