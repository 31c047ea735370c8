#include "bench/program/register/passphrase.hpp"

#include <fcntl.h>
#include <sodium.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

#include "report/seal/keys.hpp"

namespace tipwright::program {

namespace {

constexpr char interrupt_key = 3;  // Ctrl-C, as it arrives while the terminal sends no signals

// Bytes that are wiped when they go.
struct Secret {
    std::array<char, seal::max_passphrase_bytes + 2> bytes{};
    std::size_t size = 0;
    ~Secret() { sodium_memzero(bytes.data(), bytes.size()); }
};

// Up to the first line feed or the end.
Result<seal::Passphrase> read_line(int descriptor, const std::string& where) {
    Secret secret;
    for (;;) {
        char c = 0;
        const ssize_t n = ::read(descriptor, &c, 1);
        if (n < 0 && errno == EINTR) continue;
        if (n < 0)
            return Fault{FaultCode::file_unreadable, std::string("cannot read: ") + std::strerror(errno),
                         where, "is it open for reading?"};
        if (n == 0 || c == '\n') break;
        if (secret.size >= seal::max_passphrase_bytes)
            return Fault{FaultCode::bad_value,
                         "longer than " + std::to_string(seal::max_passphrase_bytes) + " bytes", where,
                         "give the passphrase alone, as one line"};
        if (c == interrupt_key) return Fault{FaultCode::interrupted, "stopped by Ctrl-C", where, ""};
        secret.bytes[secret.size++] = c;
    }
    if (secret.size > 0 && secret.bytes[secret.size - 1] == '\r') --secret.size;
    if (secret.size == 0)
        return Fault{FaultCode::bad_value, "the passphrase is empty", where, "give it as one line"};
    return seal::Passphrase(std::string(secret.bytes.data(), secret.size));
}

class Terminal {
public:
    Terminal() : descriptor_(::open("/dev/tty", O_RDWR | O_CLOEXEC | O_NOCTTY)) {
        if (descriptor_ < 0 || ::tcgetattr(descriptor_, &before_) != 0) return;
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
    bool ready_ = false;
};

Result<seal::Passphrase> from_file(const std::filesystem::path& file) {
    const int descriptor = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
    if (descriptor < 0)
        return Fault{errno == ENOENT ? FaultCode::file_missing : FaultCode::file_unreadable,
                     std::string("cannot open: ") + std::strerror(errno), file.string(), "check the name"};
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

}  // namespace

Result<seal::Passphrase> read_passphrase(const PassphraseSource& source, const std::string& prompt,
                                         bool twice) {
    if (source.descriptor)
        return read_line(*source.descriptor, "descriptor " + std::to_string(*source.descriptor));
    if (!source.file.empty()) return from_file(source.file);
    Terminal terminal;
    if (!terminal.ready())
        return Fault{FaultCode::usage, "there is no terminal to ask for the passphrase", "passphrase",
                     "give --passphrase-file or --passphrase-fd"};
    auto first = terminal.ask(prompt);
    if (!first || !twice) return first;
    const auto again = terminal.ask(prompt + ", once more");
    if (!again) return again.fault();
    if (again->text() != first->text())
        return Fault{FaultCode::bad_value, "the two differ", "passphrase", "type it again"};
    return first;
}

}  // namespace tipwright::program
