// Serial shim: makes a pseudo-terminal a serial port for libserialport and for modem-line ioctls, so that
// code for serial ports is exercised without one. Linked into a test program, or preloaded (LD_PRELOAD). The
// folder named by SERIAL_SHIM_ROOT holds what there is:
//   sys/class/tty/NAME   as in sysfs: a link into a device folder, with USB identity beside it
//   dev/NAME             a link to the pseudo-terminal; opened for /dev/NAME
//   lines/NAME           struct ShimLines of serial_shim.hpp, mapped by whoever moves the modem lines
// Without the variable everything passes through.
#include "tests/support/serial_shim.hpp"

#include <dirent.h>
#include <dlfcn.h>
#include <fcntl.h>
#include <linux/serial.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdarg>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <mutex>
#include <string>
#include <string_view>

namespace {

using tipwright::test::ShimLines;

constexpr int descriptors_max = 1024;
constexpr std::string_view sysfs = "/sys/class/tty";
constexpr std::string_view devices = "/dev/";

std::mutex guard;
std::array<ShimLines*, descriptors_max> lines_of_descriptor{};

template <class Function>
Function real(const char* name) {
    return reinterpret_cast<Function>(::dlsym(RTLD_NEXT, name));
}

std::string root() {
    const char* folder = std::getenv("SERIAL_SHIM_ROOT");
    return folder ? folder : "";
}

bool exists(const std::string& path) {
    return ::access(path.c_str(), F_OK) == 0;
}

// Where the path leads instead; itself when it is not the shim's.
std::string redirected(const char* path) {
    const std::string_view text(path);
    const std::string folder = root();
    if (folder.empty()) return path;
    if (text.starts_with(sysfs)) return folder + path;
    if (text.starts_with(devices) && exists(folder + path)) return folder + path;
    return path;
}

void note_open(int descriptor, const char* path) {
    const std::string folder = root();
    const std::string_view text(path);
    if (descriptor < 0 || descriptor >= descriptors_max || folder.empty() || !text.starts_with(devices))
        return;
    const std::string file = folder + "/lines/" + std::string(text.substr(devices.size()));
    const int lines = real<int (*)(const char*, int, ...)>("open")(file.c_str(), O_RDWR | O_CLOEXEC);
    if (lines < 0) return;
    void* mapped = ::mmap(nullptr, sizeof(ShimLines), PROT_READ | PROT_WRITE, MAP_SHARED, lines, 0);
    real<int (*)(int)>("close")(lines);
    if (mapped == MAP_FAILED) return;
    const std::lock_guard lock(guard);
    lines_of_descriptor[static_cast<std::size_t>(descriptor)] = static_cast<ShimLines*>(mapped);
}

ShimLines* lines_of(int descriptor) {
    const std::lock_guard lock(guard);
    return descriptor >= 0 && descriptor < descriptors_max
               ? lines_of_descriptor[static_cast<std::size_t>(descriptor)]
               : nullptr;
}

// As the kernel's: returns at the next change of one of the lines, or with EINTR when a signal comes.
int wait_for_change(ShimLines& lines, unsigned mask) {
    const auto counts = [&] {
        return std::array<unsigned, 4>{
            (mask & TIOCM_CTS) ? lines.cts.load() : 0, (mask & TIOCM_DSR) ? lines.dsr.load() : 0,
            (mask & TIOCM_CD) ? lines.dcd.load() : 0, (mask & TIOCM_RNG) ? lines.rng.load() : 0};
    };
    const auto before = counts();
    ++lines.waiters;
    int result = 0;
    while (counts() == before) {
        if (lines.unplugged != 0) {
            errno = EIO;
            result = -1;
            break;
        }
        const timespec pause{0, 100000};
        if (::nanosleep(&pause, nullptr) != 0) {
            errno = EINTR;
            result = -1;
            break;
        }
    }
    --lines.waiters;
    return result;
}

int answer(ShimLines& lines, unsigned long request, void* argument) {
    switch (request) {
        case TIOCMGET:
            if (lines.unplugged != 0) break;
            *static_cast<int*>(argument) = static_cast<int>(lines.inputs.load() | lines.outputs.load());
            return 0;
        case TIOCMSET:
            lines.outputs = static_cast<unsigned>(*static_cast<int*>(argument)) & (TIOCM_DTR | TIOCM_RTS);
            return 0;
        case TIOCMBIS:
            lines.outputs |= static_cast<unsigned>(*static_cast<int*>(argument)) & (TIOCM_DTR | TIOCM_RTS);
            return 0;
        case TIOCMBIC:
            lines.outputs &= ~static_cast<unsigned>(*static_cast<int*>(argument));
            return 0;
        case TIOCMIWAIT:
            if (lines.no_edge_wait != 0) {
                errno = EINVAL;
                return -1;
            }
            return wait_for_change(lines, static_cast<unsigned>(reinterpret_cast<std::uintptr_t>(argument)));
        case TIOCGICOUNT: {
            if (lines.no_edge_wait != 0) {
                errno = EINVAL;
                return -1;
            }
            auto* counts = static_cast<serial_icounter_struct*>(argument);
            std::memset(counts, 0, sizeof *counts);
            counts->cts = static_cast<int>(lines.cts.load());
            counts->dsr = static_cast<int>(lines.dsr.load());
            counts->dcd = static_cast<int>(lines.dcd.load());
            counts->rng = static_cast<int>(lines.rng.load());
            return 0;
        }
        default:
            break;
    }
    errno = EIO;
    return -1;
}

bool is_modem_request(unsigned long request) {
    return request == TIOCMGET || request == TIOCMSET || request == TIOCMBIS || request == TIOCMBIC ||
           request == TIOCMIWAIT || request == TIOCGICOUNT;
}

}  // namespace

extern "C" {

int open(const char* path, int flags, ...) {
    mode_t mode = 0;
    if ((flags & (O_CREAT | O_TMPFILE)) != 0) {
        va_list arguments;
        va_start(arguments, flags);
        mode = va_arg(arguments, mode_t);
        va_end(arguments);
    }
    const int descriptor =
        real<int (*)(const char*, int, ...)>("open")(redirected(path).c_str(), flags, mode);
    note_open(descriptor, path);
    return descriptor;
}

int __open_2(const char* path, int flags) {
    const int descriptor = real<int (*)(const char*, int)>("__open_2")(redirected(path).c_str(), flags);
    note_open(descriptor, path);
    return descriptor;
}

int close(int descriptor) {
    {
        const std::lock_guard lock(guard);
        if (descriptor >= 0 && descriptor < descriptors_max) {
            ShimLines*& lines = lines_of_descriptor[static_cast<std::size_t>(descriptor)];
            if (lines != nullptr) ::munmap(lines, sizeof(ShimLines));
            lines = nullptr;
        }
    }
    return real<int (*)(int)>("close")(descriptor);
}

int ioctl(int descriptor, unsigned long request, ...) noexcept {
    va_list arguments;
    va_start(arguments, request);
    void* argument = va_arg(arguments, void*);
    va_end(arguments);
    ShimLines* lines = is_modem_request(request) ? lines_of(descriptor) : nullptr;
    if (lines != nullptr) return answer(*lines, request, argument);
    return real<int (*)(int, unsigned long, ...)>("ioctl")(descriptor, request, argument);
}

// A pseudo-terminal has eight bits and no parity whatever it is told, and the C library says so: what was
// asked for is kept here, and is what a port would do.
int tcsetattr(int descriptor, int when, const struct termios* settings) noexcept {
    ShimLines* lines = lines_of(descriptor);
    if (lines != nullptr) {
        const std::uint32_t number = ++lines->settings;
        const std::uint32_t refused_from = lines->refused_from;
        if (refused_from != 0 && number >= refused_from) {
            errno = number == refused_from ? EINVAL : EIO;
            return -1;
        }
    }
    const int result =
        real<int (*)(int, int, const struct termios*)>("tcsetattr")(descriptor, when, settings);
    if (lines == nullptr) return result;
    lines->frame = settings->c_cflag;
    return result != 0 && errno == EINVAL ? 0 : result;
}

int tcgetattr(int descriptor, struct termios* settings) noexcept {
    const int result = real<int (*)(int, struct termios*)>("tcgetattr")(descriptor, settings);
    const ShimLines* lines = result == 0 ? lines_of(descriptor) : nullptr;
    if (lines != nullptr && lines->frame != 0) settings->c_cflag = lines->frame;
    return result;
}

ssize_t readlink(const char* path, char* into, size_t size) noexcept {
    return real<ssize_t (*)(const char*, char*, size_t)>("readlink")(redirected(path).c_str(), into, size);
}

int __lxstat(int version, const char* path, struct stat* into) noexcept {
    return real<int (*)(int, const char*, struct stat*)>("__lxstat")(version, redirected(path).c_str(), into);
}

FILE* fopen(const char* path, const char* mode) {
    return real<FILE* (*)(const char*, const char*)>("fopen")(redirected(path).c_str(), mode);
}

DIR* opendir(const char* path) {
    return real<DIR* (*)(const char*)>("opendir")(redirected(path).c_str());
}
}
