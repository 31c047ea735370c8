// Line interpreter: the part that families of lines share: whole lines out of pieces. Internal to
// instruments/.
#pragma once

#include <string>
#include <vector>

#include "bench/instruments/interpret.hpp"

namespace tipwright::bench {

class LineInterpreter : public Interpreter {
public:
    std::vector<Meaning> sent(std::string_view bytes) final;
    std::vector<Meaning> came(std::string_view bytes) final;

protected:
    virtual Meaning line_sent(std::string_view line) = 0;
    virtual Meaning line_came(std::string_view line) = 0;

private:
    std::vector<Meaning> whole_lines(std::string& held, std::string_view bytes, bool was_sent);
    std::string sent_;
    std::string came_;
};

// "column 12: wants a number {mass}, the line has \"abc\"".
std::string mismatch_text(std::string_view line, std::size_t at, std::string_view wanted);

}  // namespace tipwright::bench
