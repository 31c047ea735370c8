// What the machine itself takes for the bytes of many lanes: a thread that is woken by each of them, reads it
// and appends a line of a journal's length to a file, and does nothing else. Whatever a program does with the
// bytes comes on top of that.
#pragma once

#include <atomic>
#include <filesystem>
#include <thread>
#include <vector>

#include "tests/support/instrument_feeder.hpp"

namespace tipwright::test {

class BareReader {
public:
    // The feeder's pumps are set to that flow; a file for each lane is written in the folder.
    BareReader(const InstrumentFeeder& feeder, double flow_mL_min, const std::filesystem::path& folder);
    BareReader(const BareReader&) = delete;
    BareReader& operator=(const BareReader&) = delete;
    ~BareReader();

    // Its share of one core, from the beginning to now.
    double end();

private:
    void listen();

    int epoll_ = -1;
    std::vector<int> links_;
    std::vector<int> files_;
    double share_ = 0;
    std::atomic<bool> ending_ = false;
    std::thread thread_;
};

}  // namespace tipwright::test
