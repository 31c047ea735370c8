#include "tests/support/bare_reader.hpp"

#include <fcntl.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <stdexcept>
#include <string>

namespace tipwright::test {

namespace {

constexpr std::size_t line_length = 80;  // of a balance reading in the journal
constexpr int look_ms = 100;             // whether to end

int open_link(const std::string& link) {
    const std::string path = link.substr(link.find(' ') + 1);
    const int descriptor = ::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    termios settings{};
    if (descriptor < 0 || ::tcgetattr(descriptor, &settings) != 0)
        throw std::runtime_error("no pseudo-terminal to read");
    ::cfmakeraw(&settings);
    ::tcsetattr(descriptor, TCSANOW, &settings);
    return descriptor;
}

double processor_s() {
    rusage used{};
    ::getrusage(RUSAGE_THREAD, &used);
    return static_cast<double>(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
           1e-6 * static_cast<double>(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
}

}  // namespace

BareReader::BareReader(const InstrumentFeeder& feeder, double flow_mL_min,
                       const std::filesystem::path& folder)
    : epoll_(::epoll_create1(EPOLL_CLOEXEC)) {
    for (const FeederLane& lane : feeder.lanes()) {
        const std::string file = (folder / ("bare-" + std::to_string(files_.size()))).string();
        files_.push_back(::open(file.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600));
        if (files_.back() < 0) throw std::runtime_error("no file to write to");
        for (const std::string* link : {&lane.balance, &lane.counter, &lane.pump}) {
            links_.push_back(open_link(*link));
            epoll_event wanted{};
            wanted.events = EPOLLIN | EPOLLET;
            wanted.data.u64 = links_.size() - 1;
            ::epoll_ctl(epoll_, EPOLL_CTL_ADD, links_.back(), &wanted);
        }
        const std::string flow = "FLOW " + std::to_string(flow_mL_min) + "\r";
        if (::write(links_.back(), flow.data(), flow.size()) < 0) throw std::runtime_error("no pump");
    }
    thread_ = std::thread([this] { listen(); });
}

BareReader::~BareReader() {
    end();
    for (const int descriptor : links_) ::close(descriptor);
    for (const int descriptor : files_) ::close(descriptor);
    ::close(epoll_);
}

double BareReader::end() {
    ending_ = true;
    if (thread_.joinable()) thread_.join();
    return share_;
}

void BareReader::listen() {
    const std::string line(line_length, 'x');
    std::array<char, 4096> bytes{};
    std::array<epoll_event, 64> events{};
    const double begun_s = steady_s();
    while (!ending_) {
        const int count = ::epoll_wait(epoll_, events.data(), static_cast<int>(events.size()), look_ms);
        for (int i = 0; i < count; ++i) {
            const std::size_t link = events[static_cast<std::size_t>(i)].data.u64;
            if (::read(links_[link], bytes.data(), bytes.size()) > 0)
                static_cast<void>(!::write(files_[link / 3], line.data(), line.size()));
        }
    }
    share_ = processor_s() / (steady_s() - begun_s);
}

}  // namespace tipwright::test
