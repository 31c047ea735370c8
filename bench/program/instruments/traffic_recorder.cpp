#include "bench/program/instruments/traffic_recorder.hpp"

#include "bench/program/moment.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

TrafficRecorder::~TrafficRecorder() {
    if (file_ != nullptr) std::fclose(file_);
}

Outcome TrafficRecorder::open(const std::filesystem::path& path, const std::string& link,
                              const std::string& profile) {
    file_ = std::fopen(path.c_str(), "wxe");
    if (file_ == nullptr) {
        return Fault{FaultCode::file_unwritable, "cannot make the recording", path.string(),
                     "give a file that is not there yet, in a folder that can be written"};
    }
    std::fprintf(file_, "%s\n", std::string(bench::traffic_first_line).c_str());
    std::fprintf(file_, "# instrument = (fill in: what it is, its firmware, its settings)\n");
    std::fprintf(file_, "# link = %s\n# recorded = %s\n", visible(link).c_str(), utc_now().c_str());
    if (!profile.empty()) std::fprintf(file_, "# profile = %s\n", visible(profile).c_str());
    return Done{};
}

void TrafficRecorder::add(const bench::TrafficEntry& entry) {
    if (file_ == nullptr) return;
    const std::string line = bench::traffic_line(entry);
    failed_ =
        failed_ || std::fwrite(line.data(), 1, line.size(), file_) != line.size() || std::fflush(file_) != 0;
}

}  // namespace tipwright::program
