// The bytes of a link kept in a file as they come: what `listen --record` writes and `replay FILE` reads
// (bench/links/traffic.hpp). Lines are handed on at once, so that a session cut short is kept.
#pragma once

#include <cstdio>
#include <filesystem>
#include <string>

#include "bench/links/traffic.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

class TrafficRecorder {
public:
    TrafficRecorder() = default;
    TrafficRecorder(const TrafficRecorder&) = delete;
    TrafficRecorder& operator=(const TrafficRecorder&) = delete;
    ~TrafficRecorder();

    // Faults: file_unwritable, also when the file is there already. `profile`: its name; empty: none.
    Outcome open(const std::filesystem::path& path, const std::string& link, const std::string& profile);
    // Before open(), nothing is kept.
    void add(const bench::TrafficEntry& entry);
    // A line could not be written: the disk is full.
    bool failed() const { return failed_; }

private:
    std::FILE* file_ = nullptr;
    bool failed_ = false;
};

}  // namespace tipwright::program
