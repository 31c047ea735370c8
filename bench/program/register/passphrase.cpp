#include "bench/program/register/passphrase.hpp"

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstring>
#include <optional>
#include <utility>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/environment.hpp"
#include "bench/program/settings/settings.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/open_input.hpp"
#include "report/seal/keys.hpp"
#include "report/seal/new_passphrase.hpp"

namespace tipwright::program {

namespace {

constexpr char interrupt_key = 3;  // Ctrl-C, as it arrives while the terminal sends no signals

// Up to the first line feed or the end, straight into the passphrase's own memory.
Result<seal::Passphrase> read_line(int descriptor, const std::string& where) {
    seal::Passphrase secret = seal::Passphrase::with_room(seal::max_passphrase_bytes + 1);
    std::size_t size = 0;
    for (;;) {
        const ssize_t n = ::read(descriptor, secret.room() + size, 1);
        if (n < 0 && errno == EINTR) continue;
        if (n < 0)
            return Fault{FaultCode::file_unreadable, std::string("cannot read: ") + std::strerror(errno),
                         where, "is it open for reading?"};
        if (n == 0 || secret.room()[size] == '\n') break;
        if (secret.room()[size] == interrupt_key)
            return Fault{FaultCode::interrupted, "stopped by Ctrl-C", where, ""};
        if (++size > seal::max_passphrase_bytes)
            return Fault{FaultCode::bad_value,
                         "longer than " + std::to_string(seal::max_passphrase_bytes) + " bytes", where,
                         "give the passphrase alone, as one line"};
    }
    if (size > 0 && secret.room()[size - 1] == '\r') --size;
    if (size == 0)
        return Fault{FaultCode::bad_value, "the passphrase is empty", where, "give it as one line"};
    secret.resize(size);
    return secret;
}

// No core of this process, by no way: what it is about to know stays in it.
void keep_out_of_cores() {
    const rlimit none{0, 0};
    // Where the system refuses one of them the other still holds, and the passphrase's own memory is left out
    // anyway.
    static_cast<void>(::setrlimit(RLIMIT_CORE, &none));
    static_cast<void>(::prctl(PR_SET_DUMPABLE, 0, 0, 0, 0));
}

// Gives the terminal its echo back, whatever ends this process, SIGKILL too: a child that waits for the end.
class EchoKeeper {
public:
    EchoKeeper(int terminal, const termios& before) {
        if (::pipe2(pipe_, O_CLOEXEC) != 0) return;
        child_ = ::fork();
        if (child_ != 0) {
            ::close(std::exchange(pipe_[0], -1));
            return;
        }
        // Only calls that are safe between fork and exec.
        for (int signal = 1; signal < NSIG; ++signal) ::signal(signal, SIG_IGN);
        ::setpgid(0, 0);
        ::close(pipe_[1]);
        char all_is_well = 0;
        ssize_t n = 0;
        while ((n = ::read(pipe_[0], &all_is_well, 1)) < 0 && errno == EINTR) {
        }
        if (n != 1) ::tcsetattr(terminal, TCSANOW, &before);
        ::_exit(0);
    }
    ~EchoKeeper() {
        if (pipe_[1] >= 0) {
            const char all_is_well = 1;
            static_cast<void>(!::write(pipe_[1], &all_is_well, 1));
            ::close(pipe_[1]);
        }
        if (child_ > 0)
            while (::waitpid(child_, nullptr, 0) < 0 && errno == EINTR) {
            }
    }
    EchoKeeper(const EchoKeeper&) = delete;
    EchoKeeper& operator=(const EchoKeeper&) = delete;

private:
    int pipe_[2] = {-1, -1};
    pid_t child_ = -1;
};

class Terminal {
public:
    Terminal() : descriptor_(::open("/dev/tty", O_RDWR | O_CLOEXEC | O_NOCTTY)) {
        if (descriptor_ < 0 || ::tcgetattr(descriptor_, &before_) != 0) return;
        keeper_.emplace(descriptor_, before_);
        termios quiet = before_;
        // No signals either: Ctrl-C must not leave the terminal without echo.
        quiet.c_lflag &= ~static_cast<tcflag_t>(ECHO | ISIG);
        ready_ = ::tcsetattr(descriptor_, TCSAFLUSH, &quiet) == 0;
    }
    ~Terminal() {
        if (ready_) ::tcsetattr(descriptor_, TCSAFLUSH, &before_);
        if (descriptor_ >= 0) ::close(descriptor_);
    }
    Terminal(const Terminal&) = delete;
    Terminal& operator=(const Terminal&) = delete;

    bool ready() const { return ready_; }
    Result<seal::Passphrase> ask(const std::string& prompt) {
        tell(prompt + ": ");
        auto out = read_line(descriptor_, "passphrase");
        tell("\n");
        return out;
    }

private:
    void tell(const std::string& text) {
        // A prompt that cannot be shown is no reason to stop.
        if (::write(descriptor_, text.data(), text.size()) < 0) return;
    }
    int descriptor_;
    termios before_{};
    std::optional<EchoKeeper> keeper_;
    bool ready_ = false;
};

Result<seal::Passphrase> from_file(const std::filesystem::path& file) {
    const Result<int> opened = open_input(file);
    if (!opened) return opened.fault();
    const int descriptor = *opened;
    struct stat status {};
    const bool known = ::fstat(descriptor, &status) == 0;
    if (known && S_ISREG(status.st_mode) && (status.st_mode & (S_IRWXG | S_IRWXO)) != 0) {
        ::close(descriptor);
        return Fault{FaultCode::not_permitted, "others may read the file of the passphrase", file.string(),
                     "chmod 600 it"};
    }
    auto out = read_line(descriptor, file.string());
    ::close(descriptor);
    return out;
}

Result<seal::Passphrase> read(const PassphraseSource& source, const std::string& prompt, bool twice) {
    keep_out_of_cores();
    tell_unlocked_memory();
    if (source.descriptor)
        return read_line(*source.descriptor, "descriptor " + std::to_string(*source.descriptor));
    if (!source.file.empty()) return from_file(source.file);
    Terminal terminal;
    if (!terminal.ready())
        return Fault{FaultCode::usage, "there is no terminal to ask for the passphrase", "passphrase",
                     "give --" + source.option + "-file or --" + source.option + "-fd"};
    auto first = terminal.ask(prompt);
    if (!first || !twice) return first;
    const auto again = terminal.ask(prompt + ", once more");
    if (!again) return again.fault();
    if (again->text() != first->text())
        return Fault{FaultCode::bad_value, "the two differ", "passphrase", "type it again"};
    return first;
}

// Of who works here, and of the laboratories in the descriptions of benches; what cannot be read names
// nobody.
std::vector<std::string> names_here(const CommonOptions& common) {
    std::vector<std::string> out{environment("TIPWRIGHT_PERSON")};
    if (const auto settings = Settings::load()) out.push_back(settings->value_or("person", ""));
    static_cast<void>(bench::list_templates(bench::TemplateKind::bench, common.templates,
                                            [&](const std::string& file) -> Result<std::string> {
                                                const auto one = bench::load_bench(file, common.templates);
                                                if (!one) return one.fault();
                                                out.push_back(one->laboratory.name);
                                                return one->title;
                                            }));
    return out;
}

}  // namespace

void tell_unlocked_memory() {
    static const bool told = [] {
        if (seal::memory_can_be_locked()) return false;
        print_to(stderr,
                 "tipwright: warning: memory cannot be locked here (ulimit -l), so the passphrase and the "
                 "key may be written to the disk with memory that is swapped out\n");
        return true;
    }();
    static_cast<void>(told);
}

Result<seal::Passphrase> read_passphrase(const PassphraseSource& source, const std::string& prompt) {
    return read(source, prompt, false);
}

Result<seal::Passphrase> read_new_passphrase(const CommonOptions& common, const PassphraseSource& source,
                                             const std::string& prompt) {
    auto out = read(source, prompt, true);
    if (!out) return out;
    if (const Outcome good = seal::check_new_passphrase(*out, names_here(common)); !good) return good.fault();
    return out;
}

}  // namespace tipwright::program
