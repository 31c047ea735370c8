#include "bench/program/page/begin_run.hpp"

#include <fcntl.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstring>
#include <utility>

namespace tipwright::program {

namespace {

constexpr std::size_t most_said = 64u << 10;
constexpr std::string_view line_begin = "tipwright: ";

std::vector<char*> pointers(std::vector<std::string>& texts) {
    std::vector<char*> out;
    out.reserve(texts.size() + 1);
    for (std::string& text : texts) out.push_back(text.data());
    out.push_back(nullptr);
    return out;
}

std::vector<std::string> environment_with(const std::vector<std::string>& given) {
    std::vector<std::string> out = given;
    for (char** at = environ; *at; ++at) {
        const std::string_view one = *at;
        const std::string_view name = one.substr(0, one.find('=') + 1);
        bool replaced = false;
        for (const std::string& other : given)
            replaced = replaced || std::string_view(other).starts_with(name);
        if (!replaced) out.emplace_back(one);
    }
    return out;
}

// The first of the errors of what has to be done before a child can begin; what comes after it does no harm.
class FirstError {
public:
    void note(int error) {
        if (error_ == 0) error_ = error;
    }
    int get() const { return error_; }

private:
    int error_ = 0;
};

// A pipe whose reading end gives this text, and then its end; -1 where there is an error.
int pipe_with(const std::string& text, FirstError& error) {
    int ends[2];
    if (::pipe2(ends, O_CLOEXEC) != 0) {
        error.note(errno);
        return -1;
    }
    const std::string line = text + "\n";
    const ssize_t put = ::write(ends[1], line.data(), line.size());
    if (put != static_cast<ssize_t>(line.size())) error.note(put < 0 ? errno : EMSGSIZE);
    ::close(ends[1]);
    // Out of the way of the numbers that the child will know.
    const int out = ::fcntl(ends[0], F_DUPFD_CLOEXEC, 100);
    if (out < 0) error.note(errno);
    ::close(ends[0]);
    return out;
}

}  // namespace

Result<Child> Child::begin(const std::vector<std::string>& words, const std::vector<std::string>& environment,
                           const std::vector<std::string>& secrets) {
    Child out;
    FirstError error;
    out.said_ = ::memfd_create("said", MFD_CLOEXEC);
    if (out.said_ < 0) error.note(errno);
    std::vector<int> pipes;
    pipes.reserve(secrets.size());
    for (const std::string& secret : secrets) pipes.push_back(pipe_with(secret, error));
    posix_spawn_file_actions_t actions;
    error.note(::posix_spawn_file_actions_init(&actions));
    error.note(::posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0));
    error.note(::posix_spawn_file_actions_adddup2(&actions, out.said_, STDOUT_FILENO));
    error.note(::posix_spawn_file_actions_adddup2(&actions, out.said_, STDERR_FILENO));
    for (std::size_t i = 0; i < pipes.size(); ++i)
        error.note(
            ::posix_spawn_file_actions_adddup2(&actions, pipes[i], first_secret + static_cast<int>(i)));
    error.note(
        ::posix_spawn_file_actions_addclosefrom_np(&actions, first_secret + static_cast<int>(pipes.size())));
    for (int between = STDERR_FILENO + 1; between < first_secret; ++between)
        error.note(::posix_spawn_file_actions_addclose(&actions, between));
    posix_spawnattr_t attributes;
    error.note(::posix_spawnattr_init(&attributes));
    sigset_t none;
    sigset_t usual;
    ::sigemptyset(&none);
    ::sigfillset(&usual);
    error.note(::posix_spawnattr_setsigmask(&attributes, &none));
    error.note(::posix_spawnattr_setsigdefault(&attributes, &usual));
    error.note(::posix_spawnattr_setflags(
        &attributes, POSIX_SPAWN_SETSID | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF));
    std::vector<std::string> arguments{"tipwright"};
    arguments.insert(arguments.end(), words.begin(), words.end());
    std::vector<std::string> variables = environment_with(environment);
    // The very program that runs, also when its file was replaced meanwhile.
    if (error.get() == 0)
        error.note(::posix_spawn(&out.process_, "/proc/self/exe", &actions, &attributes,
                                 pointers(arguments).data(), pointers(variables).data()));
    ::posix_spawnattr_destroy(&attributes);
    ::posix_spawn_file_actions_destroy(&actions);
    for (const int pipe : pipes)
        if (pipe >= 0) ::close(pipe);
    if (error.get() != 0) {
        out.process_ = -1;
        return Fault{FaultCode::not_permitted,
                     std::string("no program can be started: ") + std::strerror(error.get()), "page",
                     "free memory, or start the run at a terminal"};
    }
    return out;
}

Child::Child(Child&& other) noexcept {
    *this = std::move(other);
}

Child& Child::operator=(Child&& other) noexcept {
    std::swap(process_, other.process_);
    std::swap(said_, other.said_);
    std::swap(status_, other.status_);
    std::swap(ended_, other.ended_);
    return *this;
}

Child::~Child() {
    if (said_ >= 0) ::close(said_);
}

bool Child::runs() {
    if (ended_ || process_ <= 0) return false;
    const pid_t got = ::waitpid(process_, &status_, WNOHANG);
    if (got == 0 || (got < 0 && errno == EINTR)) return true;
    ended_ = true;
    return false;
}

void Child::wait() {
    if (ended_ || process_ <= 0) return;
    while (::waitpid(process_, &status_, 0) < 0 && errno == EINTR) {
    }
    ended_ = true;
}

std::string Child::said() const {
    std::string out(most_said, '\0');
    const off_t size = ::lseek(said_, 0, SEEK_END);
    const off_t from = size > static_cast<off_t>(most_said) ? size - static_cast<off_t>(most_said) : 0;
    const ssize_t got = ::pread(said_, out.data(), out.size(), from);
    out.resize(static_cast<std::size_t>(got > 0 ? got : 0));
    return out;
}

Outcome Child::outcome() const {
    if (ended_ && WIFEXITED(status_) && WEXITSTATUS(status_) == 0) return Done{};
    const std::string text = said();
    const std::size_t found = text.rfind(line_begin);
    std::string line =
        found == std::string::npos ? "it ended without a message" : text.substr(found + line_begin.size());
    line.resize(std::min(line.find('\n'), line.size()));
    return Fault{FaultCode::not_permitted, line, "", ""};
}

}  // namespace tipwright::program
