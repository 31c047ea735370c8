// TrafficView: the bytes of a link and what a profile reads from them, as rows on the terminal or as JSON.
#pragma once

#include <cstdio>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "bench/instruments/interpret.hpp"
#include "bench/links/traffic.hpp"

namespace tipwright::program {

class TrafficView {
public:
    // Null interpreter: bytes only. Quiet: nothing is printed to `out`, rows are gathered for json().
    TrafficView(std::unique_ptr<bench::Interpreter> interpreter, bool quiet, std::FILE* out);
    ~TrafficView();

    void show(const bench::TrafficEntry& entry);
    // What was read without bytes: a contact on a modem input.
    void note(double time_s, const std::string& text);
    // Lines that came and were, or were not, understood.
    int understood() const { return understood_; }
    int not_understood() const { return not_understood_; }
    std::size_t bytes_came() const { return bytes_came_; }
    nlohmann::ordered_json json() const;

private:
    struct Rows;
    void print(const bench::TrafficEntry& entry, const std::vector<bench::Meaning>& meanings);

    std::unique_ptr<bench::Interpreter> interpreter_;
    std::unique_ptr<Rows> rows_;
    bool quiet_;
    std::FILE* out_;
    int understood_ = 0;
    int not_understood_ = 0;
    std::size_t bytes_came_ = 0;
};

}  // namespace tipwright::program
