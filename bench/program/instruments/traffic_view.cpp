#include "bench/program/instruments/traffic_view.hpp"
#include "bench/program/terminal.hpp"

#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>

namespace tipwright::program {

namespace {

constexpr std::size_t bytes_a_row = 16;
// For --json: beyond this the rows would fill the memory of a session left running over night.
constexpr std::size_t rows_max = 200000;

// Kinds of misfit that are told at length; a line of rubbish has one of its own each time.
constexpr std::size_t told_max = 64;

// What of a hint stays the same from line to line: pattern, column, and what was wanted there.
std::string without_the_line(const std::string& hint) {
    return hint.substr(0, hint.find(", the line"));
}

constexpr const char* way_words[] = {"sent", "came", "lost"};

}  // namespace

struct TrafficView::Rows {
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
};

TrafficView::TrafficView(std::unique_ptr<bench::Interpreter> interpreter, bool quiet, std::FILE* out)
    : interpreter_(std::move(interpreter)), rows_(std::make_unique<Rows>()), quiet_(quiet), out_(out) {
    if (!quiet_) print_to(out_, "%10s       %-47s  %-16s\n", "seconds", "bytes", "as text");
}

TrafficView::~TrafficView() = default;

void TrafficView::show(const bench::TrafficEntry& entry) {
    std::vector<bench::Meaning> meanings;
    if (interpreter_ && entry.way == bench::TrafficWay::sent) meanings = interpreter_->sent(entry.bytes);
    if (entry.way == bench::TrafficWay::came) {
        bytes_came_ += entry.bytes.size();
        if (interpreter_) meanings = interpreter_->came(entry.bytes);
        for (const bench::Meaning& meaning : meanings) ++(meaning.understood ? understood_ : not_understood_);
    }
    if (!quiet_) {
        print(entry, meanings);
    } else if (rows_->list.size() < rows_max) {
        nlohmann::ordered_json read = nlohmann::ordered_json::array();
        for (const bench::Meaning& meaning : meanings)
            read.push_back(
                {{"understood", meaning.understood}, {"text", meaning.text}, {"hints", meaning.hints}});
        rows_->list.push_back({{"time_s", entry.time_s},
                               {"way", way_words[static_cast<int>(entry.way)]},
                               {"bytes", bench::quoted_bytes(entry.bytes)},
                               {"read", read}});
    }
}

void TrafficView::note(double time_s, const std::string& text) {
    ++understood_;
    if (!quiet_) {
        print_to(out_, "%10.3f       = %s\n", time_s, text.c_str());
        std::fflush(out_);
    } else if (rows_->list.size() < rows_max) {
        rows_->list.push_back({{"time_s", time_s}, {"way", "seen"}, {"read", text}});
    }
}

void TrafficView::print(const bench::TrafficEntry& entry, const std::vector<bench::Meaning>& meanings) {
    if (entry.way == bench::TrafficWay::lost) {
        print_to(out_, "%10.3f lost  %s\n", entry.time_s, visible(entry.bytes).c_str());
        std::fflush(out_);
        return;
    }
    for (std::size_t begin = 0; begin < entry.bytes.size(); begin += bytes_a_row) {
        std::string hex;
        std::string text;
        for (std::size_t i = begin; i < std::min(begin + bytes_a_row, entry.bytes.size()); ++i) {
            const auto byte = static_cast<unsigned char>(entry.bytes[i]);
            char two[8];
            std::snprintf(two, sizeof two, hex.empty() ? "%02X" : " %02X", byte);
            hex += two;
            text += byte >= ' ' && byte <= '~' ? static_cast<char>(byte) : '.';
        }
        if (begin == 0)
            print_to(out_, "%10.3f %-5s %-47s  %s\n", entry.time_s, way_words[static_cast<int>(entry.way)],
                     hex.c_str(), text.c_str());
        else
            print_to(out_, "%16s %-47s  %s\n", "", hex.c_str(), text.c_str());
    }
    for (const bench::Meaning& meaning : meanings) {
        std::vector<std::string> fresh;
        for (const std::string& hint : meaning.hints)
            if (told_.size() < told_max && told_.insert(without_the_line(hint)).second) fresh.push_back(hint);
        const bool told = !meaning.hints.empty() && fresh.empty();
        print_to(out_, "%16s %s %s%s\n", "", meaning.understood ? "=" : "?", visible(meaning.text).c_str(),
                 told ? ", as shown above" : "");
        for (const std::string& hint : fresh) print_to(out_, "%20s%s\n", "", visible(hint).c_str());
    }
    std::fflush(out_);
}

nlohmann::ordered_json TrafficView::json() const {
    return rows_->list;
}

}  // namespace tipwright::program
