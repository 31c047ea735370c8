// Made-up balances: thirty ways to write a mass that no maker is known for, put together from parts, and what
// somebody sees who listens to one: an empty pan with a vessel, a known mass, a moving pan, an overload.
// Invented; seeded.
#pragma once

#include <cmath>
#include <cstdint>
#include <cstdio>
#include <string>
#include <vector>

#include "bench/instruments/learn/learn.hpp"
#include "bench/virtual_bench/random.hpp"

namespace tipwright::test {

struct MadeUpBalance {
    std::string name;
    int prefix = 0, number = 0, unit = 0, mark = 0, over = 0, checksum = 0;
    int decimals = 2;
    char separator = ' ';
    char decimal_sign = '.';
    std::string ending = "\r\n";
    bool tells_rest() const { return mark != 4; }

    double scale() const { return unit == 2 ? 0.001 : 1; }
    double shown_g(double mass_g) const {
        const double step = std::pow(10.0, -decimals) / scale();
        return std::round(mass_g / step) * step;
    }
    std::string line(double mass_g, bool stable, bool overload, int count) const {
        std::string out;
        const auto part = [&](const std::string& text) {
            if (text.empty()) return;
            if (!out.empty()) out += separator;
            out += text;
        };
        char buffer[64];
        if (prefix == 1) part("W");
        if (prefix == 2) {
            std::snprintf(buffer, sizeof buffer, "#%04d", count % 10000);
            part(buffer);
        }
        if (prefix == 3) {
            std::snprintf(buffer, sizeof buffer, "%02d:%02d:%02d", 8 + count / 3600, count / 60 % 60,
                          count % 60);
            part(buffer);
        }
        if (prefix == 4) part("pan");
        if (prefix == 5 && !overload) {  // gross beside net
            std::snprintf(buffer, sizeof buffer, "%.2f", mass_g + 100);
            part(buffer);
        }
        if (mark == 1) part(stable ? "=" : "~");
        if (overload && over == 0) {
            part("over");
        } else if (overload && over == 1) {
            part("-------");
        } else {
            const double value = overload ? 99999 : shown_g(mass_g) * scale();
            const char* formats[] = {"%9.*f", "%.*f", "%+10.*f", "%09.*f", "%8.*f"};
            std::snprintf(buffer, sizeof buffer, formats[number], decimals, value);
            std::string text = buffer;
            if (text.find_first_not_of(" -0.") == std::string::npos)  // no minus before a zero
                for (char& c : text)
                    if (c == '-') c = number == 3 ? '0' : ' ';
            for (char& c : text)
                if (c == '.') c = decimal_sign;
            part(text);
        }
        const bool unit_now = !(mark == 3 && !stable) && !(overload && over != 2);
        if (unit_now && unit == 0) part("g");
        if (unit_now && unit == 1) out += "g";
        if (unit_now && unit == 2) part("kg");
        if (mark == 0 && !overload) part(stable ? "rest" : "swing");
        if (mark == 2 && stable && !overload) out += "*";
        if (overload && over == 2) part("full");
        if (checksum == 1) {
            unsigned sum = 0;
            for (const char c : out) sum ^= static_cast<unsigned char>(c);
            std::snprintf(buffer, sizeof buffer, "*%02X", sum);
            out += buffer;
        }
        return out;
    }
};

inline std::vector<MadeUpBalance> made_up_balances() {
    std::vector<MadeUpBalance> out;
    for (int i = 0; i < 30; ++i) {
        MadeUpBalance one;
        one.prefix = i % 5;
        one.number = i / 2 % 5;
        one.unit = i % 7 == 3 ? 2 : i % 7 == 5 ? 1 : i % 7 == 6 ? 3 : 0;
        one.mark = i / 3 % 5;
        if (one.mark == 3 && one.unit == 3) one.mark = 0;  // no unit that could go
        one.over = i % 3;
        one.checksum = i % 6 == 4;
        one.decimals = one.unit == 2 ? 4 : 1 + i % 3;
        one.separator = i % 8 == 2 ? ',' : i % 8 == 6 ? ';' : ' ';
        one.decimal_sign = i % 9 == 4 ? ',' : '.';
        if (one.decimal_sign == ',' && one.separator == ',') one.separator = ';';
        one.ending = i % 4 == 1 ? "\r" : i % 4 == 3 ? "\n" : "\r\n";
        one.name = "made-up " + std::to_string(i + 1);
        out.push_back(one);
    }
    return out;
}

// The balance on its desk: what stands on the pan, and what is done to it.
class BalanceOnDesk {
public:
    BalanceOnDesk(MadeUpBalance balance, double mass_g, std::uint64_t seed)
        : balance_(std::move(balance)), mass_g_(mass_g), dice_(seed, 1) {
        count_ = static_cast<int>(dice_.uniform() * 50);
    }
    void begin(bench::Situation situation) {
        situation_ = situation;
        lines_ = 0;
    }
    // The next line, as it shows the pan now; a vessel of 180 g always stands on it.
    std::string next_line() {
        using bench::Situation;
        double value = 180.37 + 0.02 * (dice_.uniform() - 0.5);
        bool stable = true;
        bool over = false;
        const int i = lines_++;
        if (situation_ == Situation::known_mass) {
            stable = i > 6;
            value += mass_g_ * (stable ? 1 : i / 6.0);
        }
        if (situation_ == Situation::moving) {
            stable = i % 13 == 12;  // now and then it rests for a moment
            value += stable ? mass_g_ : mass_g_ * 2 * dice_.uniform() - 250;
        }
        if (situation_ == Situation::overload) {
            over = i > 3;
            stable = false;
            value += mass_g_ * (1 + i);
        }
        return balance_.line(value, stable, over, count_++) + balance_.ending;
    }

private:
    MadeUpBalance balance_;
    double mass_g_;
    bench::Random dice_;
    bench::Situation situation_ = bench::Situation::empty;
    int lines_ = 0;
    int count_ = 0;
};

}  // namespace tipwright::test
