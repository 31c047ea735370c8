// Trial: what `page --trial` shows: three virtual lanes at twenty times real time, and a register with three
// invented years in a folder that goes with the page. The years are made by this program's own commands while
// the page is served already.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include "bench/program/page/register_desk.hpp"

namespace tipwright::program {

class Trial {
public:
    static constexpr const char* passphrase = "rain on a tin roof";
    using Told = std::function<void(const Fault& fault)>;
    // `tell_failed` hears, on another thread, why the years come to no end. Fault: file_unwritable (no folder
    // for it), those of reading templates.
    static Result<Trial> begin(const CommonOptions& common, Told tell_failed);
    Trial(Trial&&) noexcept;
    ~Trial();  // ends what it began and removes its folder

    std::filesystem::path work() const;
    // Register, keys, bench and speed of the trial instead of what was chosen.
    void choose(DeskOptions& desk) const;
    // Who may log in, and with what: lines for the terminal.
    std::string told() const;

private:
    struct State;
    explicit Trial(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace tipwright::program
