// One line a figure: figure NAME VALUE UNIT limit OP VALUE ok|short. Says whether the limit is met.
#pragma once

#include <cstdio>
#include <string>

namespace tipwright::test {

// op: "<=" or ">=". digits: significant ones.
inline bool figure(const std::string& name, double value, const char* unit, const char* op, double limit,
                   int digits = 4) {
    const bool ok = op[0] == '<' ? value <= limit : value >= limit;
    std::printf("figure %s %.*g %s limit %s %.*g %s\n", name.c_str(), digits, value, unit, op, digits, limit,
                ok ? "ok" : "short");
    std::fflush(stdout);
    return ok;
}

}  // namespace tipwright::test
