// Serial ports through libserialport, on pseudo-terminals that the serial shim makes ports of (it is linked
// into this program). Names, USB identities and lines are made here; no test waits for time, only for events.
#include <dlfcn.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/epoll.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/make.hpp"
#include "bench/links/link.hpp"
#include "bench/links/modem_lines.hpp"
#include "bench/links/ports.hpp"
#include "bench/links/serial_port.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/serial_shim.hpp"
#include "tests/support/test_send.hpp"

namespace {
bool no_descriptor_is_watched = false;
}

// The system's, until it has no room for another descriptor to be watched.
extern "C" int epoll_ctl(int watcher, int what, int descriptor, epoll_event* event) noexcept {
    if (no_descriptor_is_watched && what == EPOLL_CTL_ADD) {
        errno = ENOSPC;
        return -1;
    }
    static const auto systems =
        reinterpret_cast<int (*)(int, int, int, epoll_event*)>(::dlsym(RTLD_NEXT, "epoll_ctl"));
    return systems(watcher, what, descriptor, event);
}

using namespace tipwright;
using namespace tipwright::bench;
namespace asio = boost::asio;
namespace fs = std::filesystem;
using test::ShimLines;

namespace {

// A machine with some serial ports, for as long as it lives.
class Machine {
public:
    Machine() {
        std::string name = (fs::temp_directory_path() / "tipwright-serial-XXXXXX").string();
        REQUIRE(::mkdtemp(name.data()) != nullptr);
        root_ = name;
        for (const char* folder : {"sys/class/tty", "dev", "lines"}) fs::create_directories(root_ / folder);
        REQUIRE(::setenv("SERIAL_SHIM_ROOT", root_.c_str(), 1) == 0);
    }
    Machine(const Machine&) = delete;
    Machine& operator=(const Machine&) = delete;
    ~Machine() {
        ::unsetenv("SERIAL_SHIM_ROOT");
        for (ShimLines* lines : lines_) ::munmap(lines, sizeof(ShimLines));
        for (const int master : masters_) ::close(master);
        std::error_code ignored;
        fs::remove_all(root_, ignored);
    }

    // A port on a USB adapter of that serial number; gives the device's end. libserialport looks for the
    // identity in up to five folders above the port's.
    int add_usb(const std::string& name, const std::string& serial) {
        const fs::path adapter = root_ / "sys/devices/usb1" / (name + "-adapter");
        const fs::path tty = adapter / "interface/tty" / name;
        fs::create_directories(tty);
        const auto write = [&](const char* file, const std::string& text) {
            std::ofstream(adapter / file) << text << "\n";
        };
        write("busnum", "1");
        write("devnum", "7");
        write("idVendor", "1209");  // pid.codes, for projects without a number of their own
        write("idProduct", "0001");
        write("manufacturer", "Nobody (invented)");
        write("product", "Serial adapter (invented)");
        if (!serial.empty()) write("serial", serial);
        fs::create_directory_symlink("../..", tty / "device");
        fs::create_directory_symlink(fs::relative(tty, root_ / "sys/class/tty"),
                                     root_ / "sys/class/tty" / name);
        return add_terminal(name);
    }

    ShimLines& lines(std::size_t port) { return *lines_[port]; }

    // Lets a contact move: the input changes and the change is counted, as a driver does.
    void set(std::size_t port, unsigned bit, bool on) {
        ShimLines& lines = *lines_[port];
        if (((lines.inputs & bit) != 0) == on) return;
        if (on) {
            lines.inputs |= bit;
        } else {
            lines.inputs &= ~bit;
        }
        ++(bit == TIOCM_CTS   ? lines.cts
           : bit == TIOCM_DSR ? lines.dsr
           : bit == TIOCM_CD  ? lines.dcd
                              : lines.rng);
    }

private:
    int add_terminal(const std::string& name) {
        const int master = ::posix_openpt(O_RDWR | O_NOCTTY);
        REQUIRE(master >= 0);
        REQUIRE(::grantpt(master) == 0);
        REQUIRE(::unlockpt(master) == 0);
        char path[128];
        REQUIRE(::ptsname_r(master, path, sizeof path) == 0);
        fs::create_symlink(path, root_ / "dev" / name);
        masters_.push_back(master);
        const std::string file = root_ / "lines" / name;
        const int descriptor = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
        REQUIRE(descriptor >= 0);
        REQUIRE(::ftruncate(descriptor, sizeof(ShimLines)) == 0);
        void* mapped = ::mmap(nullptr, sizeof(ShimLines), PROT_READ | PROT_WRITE, MAP_SHARED, descriptor, 0);
        REQUIRE(mapped != MAP_FAILED);
        ::close(descriptor);
        lines_.push_back(static_cast<ShimLines*>(mapped));
        return master;
    }

    fs::path root_;
    std::vector<int> masters_;
    std::vector<ShimLines*> lines_;
};

template <class Work>
void on_wall_clock(Work work) {
    asio::io_context context(1);
    const auto clock = make_wall_clock(context);
    bool ended = false;
    const auto perform = [&]() -> Task<void> {
        co_await work(context, *clock);
        ended = true;
        clock->stop();
    };
    std::exception_ptr defect;
    asio::co_spawn(context, perform, [&](const std::exception_ptr& error) {
        defect = error;
        if (error) clock->stop();
    });
    clock->run();
    if (defect) std::rethrow_exception(defect);
    CHECK(ended);
}

termios terminal_of(int master) {
    termios settings{};
    REQUIRE(::tcgetattr(master, &settings) == 0);
    return settings;
}

InstrumentProfile contacts_profile(bool edge_wait) {
    auto profile = parse_profile({"contacts.toml", std::string(R"(
title = "Contacts"
family = "modem-inputs"
role = "counter"
[[contact]]
input = "CTS"
[[contact]]
input = "DSR"
closed_when = "off"
[supply]
dtr = true
rts = false
[timing]
edge_wait = )") + (edge_wait ? "true" : "false") + "\npoll_interval_s = 0.0005\nadapter_u_s = 0.0006\n"});
    REQUIRE(profile);
    return std::move(*profile);
}

}  // namespace

TEST_CASE("serial: ports are listed with the identity of their adapters") {
    Machine machine;
    machine.add_usb("ttyTIP1", "A1B2C3");
    machine.add_usb("ttyTIP0", "");
    const auto ports = list_serial_ports();
    REQUIRE(ports);
    REQUIRE(ports->size() == 2);
    CHECK((*ports)[0].path == "/dev/ttyTIP0");
    CHECK((*ports)[0].usb);
    CHECK((*ports)[0].usb_serial.empty());
    CHECK((*ports)[1].path == "/dev/ttyTIP1");
    CHECK((*ports)[1].usb_serial == "A1B2C3");
    CHECK((*ports)[1].usb_vendor == 0x1209);
    CHECK((*ports)[1].usb_product == 1);
    CHECK((*ports)[1].usb_manufacturer == "Nobody (invented)");
    CHECK((*ports)[1].usb_product_name == "Serial adapter (invented)");
}

TEST_CASE(
    "serial: a port opened by path or by USB serial number carries every byte, set as the profile says") {
    Machine machine;
    const int device = machine.add_usb("ttyTIP0", "A1B2C3");
    const std::string described = GENERATE("serial /dev/ttyTIP0", "serial usb:A1B2C3");
    on_wall_clock([&](asio::io_context& context, Clock&) -> Task<void> {
        SerialSettings settings;
        settings.baud = 19200;
        settings.data_bits = 7;
        settings.parity = Parity::even;
        settings.stop_bits = 2;
        auto link = make_link(context, described, settings);
        REQUIRE(link);
        CHECK((*link)->name() == "/dev/ttyTIP0");
        const termios terminal = terminal_of(device);
        CHECK(::cfgetispeed(&terminal) == B19200);
        // A pseudo-terminal has no frame of its own: the shim keeps what was asked for.
        const std::uint32_t frame = machine.lines(0).frame;
        CHECK((frame & CSTOPB) != 0);
        CHECK((frame & CSIZE) == CS7);
        CHECK((frame & PARENB) != 0);
        CHECK((frame & PARODD) == 0);
        CHECK((terminal.c_lflag & (ICANON | ECHO | ISIG)) == 0);
        CHECK((terminal.c_iflag & (ICRNL | INLCR | IGNCR | IXON | IXOFF)) == 0);
        CHECK((terminal.c_oflag & OPOST) == 0);

        std::string all;
        for (int byte = 0; byte < 256; ++byte) all += static_cast<char>(byte);
        REQUIRE(::write(device, all.data(), all.size()) == 256);
        std::string got;
        std::vector<std::byte> buffer(64);
        while (got.size() < 256) {
            const Result<std::size_t> count = co_await (*link)->read_some(buffer);
            REQUIRE(count);
            got.append(reinterpret_cast<const char*>(buffer.data()), *count);
        }
        CHECK(got == all);
        const Outcome written = co_await (*link)->write(TestSend::right(), std::as_bytes(std::span(all)));
        REQUIRE(written);
        std::string heard(256, '\0');
        std::size_t have = 0;
        while (have < 256) {
            const ssize_t count = ::read(device, heard.data() + have, 256 - have);
            REQUIRE(count > 0);
            have += static_cast<std::size_t>(count);
        }
        CHECK(heard == all);
    });
}

TEST_CASE("serial: a port that is open cannot be opened again, and can after it was closed") {
    Machine machine;
    machine.add_usb("ttyTIP0", "A1B2C3");
    on_wall_clock([&](asio::io_context& context, Clock&) -> Task<void> {
        auto link = make_link(context, "serial /dev/ttyTIP0");
        REQUIRE(link);
        const auto second = make_link(context, "serial usb:A1B2C3");
        REQUIRE_FALSE(second);
        CHECK(second.fault().code == FaultCode::link_lost);
        (*link)->close();
        CHECK(make_link(context, "serial /dev/ttyTIP0"));
        const Outcome again = co_await (*link)->reopen();
        CHECK(again);
        // Closed while somebody reads: the reader learns of it.
        bool told = false;
        const auto read = [&]() -> Task<void> {
            std::vector<std::byte> buffer(8);
            const Result<std::size_t> got = co_await (*link)->read_some(buffer);
            told = !got && got.fault().code == FaultCode::link_lost;
        };
        asio::co_spawn(context, read, asio::detached);
        while (!told) {
            (*link)->close();
            co_await asio::post(context, asio::use_awaitable);
        }
        CHECK(told);
    });
}

TEST_CASE("serial: a setting that a port refuses is named, with the reason that the system gave for it") {
    std::vector<std::string> told;
    for (std::uint32_t number = 1; number < 20; ++number) {
        Machine machine;
        machine.add_usb("ttyTIP0", "A1B2C3");
        machine.lines(0).refused_from = number;
        const auto port = SerialPort::open("/dev/ttyTIP0", {});
        if (port) break;
        told.push_back(port.fault().what);
        CAPTURE(number, told.back());
        CHECK(told.back().find(std::strerror(EINVAL)) != std::string::npos);
    }
    for (const char* setting :
         {"line speed", "data bits", "parity", "stop bits", "flow control", "waits for bytes"}) {
        INFO(setting);
        CHECK(std::any_of(told.begin(), told.end(),
                          [&](const std::string& what) { return what.find(setting) != std::string::npos; }));
    }
}

TEST_CASE("serial: what could not be opened again is not kept from others") {
    Machine machine;
    const int device = machine.add_usb("ttyTIP0", "A1B2C3");
    char terminal[128];
    REQUIRE(::ptsname_r(device, terminal, sizeof terminal) == 0);
    const std::string described =
        GENERATE_COPY(std::string("serial /dev/ttyTIP0"), "pty " + std::string(terminal));
    CAPTURE(described);
    on_wall_clock([&](asio::io_context& context, Clock&) -> Task<void> {
        auto link = make_link(context, described, {});
        REQUIRE(link);
        no_descriptor_is_watched = true;
        const Outcome again = co_await (*link)->reopen();
        no_descriptor_is_watched = false;
        REQUIRE_FALSE(again);
        CHECK(again.fault().what.find(std::strerror(ENOSPC)) != std::string::npos);
        link->reset();
        const auto others = make_link(context, described, {});
        CHECK((others ? std::string() : others.fault().line()) == "");
    });
}

TEST_CASE("serial: a port that is not there, and adapters that cannot be told apart, are named") {
    Machine machine;
    machine.add_usb("ttyTIP0", "SAME");
    machine.add_usb("ttyTIP1", "SAME");
    machine.add_usb("ttyTIP2", "OTHER");
    asio::io_context context;
    const auto none = make_link(context, "serial /dev/ttyTIP9");
    REQUIRE_FALSE(none);
    CHECK(none.fault().code == FaultCode::file_missing);
    const auto absent = make_link(context, "serial usb:GONE");
    REQUIRE_FALSE(absent);
    CHECK(absent.fault().code == FaultCode::file_missing);
    CHECK(absent.fault().remedy.find("OTHER") != std::string::npos);
    const auto both = make_link(context, "serial usb:SAME");
    REQUIRE_FALSE(both);
    CHECK(both.fault().code == FaultCode::duplicate);
    CHECK(both.fault().what.find("/dev/ttyTIP1") != std::string::npos);
}

TEST_CASE("serial: an adapter that is pulled is told, and found again under another path") {
    Machine machine;
    machine.add_usb("ttyTIP0", "A1B2C3");
    on_wall_clock([&](asio::io_context& context, Clock&) -> Task<void> {
        auto link = make_link(context, "serial usb:A1B2C3");
        REQUIRE(link);
        (*link)->close();
        const std::string root = std::getenv("SERIAL_SHIM_ROOT");
        fs::remove(root + "/sys/class/tty/ttyTIP0");
        const Outcome gone = co_await (*link)->reopen();
        REQUIRE_FALSE(gone);
        CHECK(gone.fault().code == FaultCode::file_missing);
        const int other = machine.add_usb("ttyTIP5", "A1B2C3");
        const Outcome back = co_await (*link)->reopen();
        REQUIRE(back);
        REQUIRE(::write(other, "x", 1) == 1);
        std::vector<std::byte> buffer(8);
        const Result<std::size_t> got = co_await (*link)->read_some(buffer);
        REQUIRE(got);
        CHECK(*got == 1);
    });
}

TEST_CASE("serial: an instrument works through a serial port as through any link") {
    Machine machine;
    const int device = machine.add_usb("ttyTIP0", "A1B2C3");
    on_wall_clock([&](asio::io_context& context, Clock& clock) -> Task<void> {
        const auto profile =
            load_profile("generic-balance-print", tipwright::test::source_dir() + "/templates");
        REQUIRE(profile);
        auto link = make_link(context, "serial /dev/ttyTIP0", profile->serial);
        REQUIRE(link);
        const auto balance = make_balance(*profile, std::move(*link), clock, context);
        REQUIRE(balance);
        const std::string print = "W   12.34 g stable\r\n";
        REQUIRE(::write(device, print.data(), print.size()) == static_cast<ssize_t>(print.size()));
        const Result<WeightReading> reading = co_await (*balance)->next();
        REQUIRE(reading);
        CHECK(reading->mass_g == 12.34);
    });
}

TEST_CASE("modem contacts: every change of both contacts comes once, in order, with its wiring") {
    const bool edge_wait = GENERATE(true, false);
    const bool driver_can_wait = GENERATE(true, false);
    CAPTURE(edge_wait, driver_can_wait);
    Machine machine;
    machine.add_usb("ttyTIP0", "A1B2C3");
    machine.lines(0).no_edge_wait = driver_can_wait ? 0 : 1;
    on_wall_clock([&](asio::io_context& context, Clock& clock) -> Task<void> {
        auto link = make_link(context, "serial /dev/ttyTIP0");
        REQUIRE(link);
        const auto counter = make_tip_counter(contacts_profile(edge_wait), std::move(*link), clock, context);
        REQUIRE(counter);
        CHECK((machine.lines(0).outputs & TIOCM_DTR) != 0);
        CHECK((machine.lines(0).outputs & TIOCM_RTS) == 0);
        double last_s = 0;
        for (int i = 0; i < 20; ++i) {
            const bool on = i % 2 == 0;
            const double moved_s = clock.now_s();
            machine.set(0, TIOCM_CTS, on);
            const Result<ContactEdge> cts = co_await (*counter)->next();
            REQUIRE(cts);
            CHECK(cts->contact == 1);
            CHECK(cts->closed == on);
            // When it was: between the move, less a look's half, and now.
            CHECK(cts->time_s >= moved_s - 0.5);
            CHECK(cts->time_s <= clock.now_s());
            CHECK(cts->time_s >= last_s);
            last_s = cts->time_s;
            machine.set(0, TIOCM_DSR, on);
            const Result<ContactEdge> dsr = co_await (*counter)->next();
            REQUIRE(dsr);
            CHECK(dsr->contact == 2);
            CHECK(dsr->closed == !on);  // closed_when = "off"
            CHECK(dsr->sequence == cts->sequence + 1);
        }
        // Measured on this machine; never better than the adapter.
        CHECK((*counter)->edge_time_u_s() >= 0.0006);
        CHECK((*counter)->edge_time_u_s() < 0.5);
    });
}

TEST_CASE("modem contacts: a pulse too short to be seen is seen by its counts") {
    Machine machine;
    machine.add_usb("ttyTIP0", "A1B2C3");
    on_wall_clock([&](asio::io_context& context, Clock& clock) -> Task<void> {
        auto link = make_link(context, "serial /dev/ttyTIP0");
        REQUIRE(link);
        const auto counter = make_tip_counter(contacts_profile(true), std::move(*link), clock, context);
        REQUIRE(counter);
        // Two changes that leave the input as it was, at one moment.
        machine.lines(0).cts += 2;
        const Result<ContactEdge> first = co_await (*counter)->next();
        const Result<ContactEdge> second = co_await (*counter)->next();
        REQUIRE(first);
        REQUIRE(second);
        CHECK(first->closed);
        CHECK_FALSE(second->closed);
        CHECK(second->time_s == first->time_s);
    });
}

TEST_CASE("modem contacts: a pulled adapter is told, also later, and other links are refused") {
    Machine machine;
    machine.add_usb("ttyTIP0", "A1B2C3");
    on_wall_clock([&](asio::io_context& context, Clock& clock) -> Task<void> {
        auto link = make_link(context, "serial /dev/ttyTIP0");
        REQUIRE(link);
        const auto counter = make_tip_counter(contacts_profile(true), std::move(*link), clock, context);
        REQUIRE(counter);
        machine.lines(0).unplugged = 1;
        for (int i = 0; i < 2; ++i) {
            const Result<ContactEdge> edge = co_await (*counter)->next();
            REQUIRE_FALSE(edge);
            CHECK(edge.fault().code == FaultCode::link_lost);
            CHECK(edge.fault().where == "counter");
        }
        auto pair = make_lockstep_pair(context, "pipe");
        const auto piped = make_tip_counter(contacts_profile(true), std::move(pair.first), clock, context);
        REQUIRE_FALSE(piped);
        CHECK(piped.fault().code == FaultCode::inconsistent);
    });
}

TEST_CASE("modem contacts: a counter that nobody waits for can be taken down at once") {
    Machine machine;
    machine.add_usb("ttyTIP0", "A1B2C3");
    for (int i = 0; i < 20; ++i) {
        asio::io_context context(1);
        const auto clock = make_wall_clock(context);
        auto link = make_link(context, "serial /dev/ttyTIP0");
        REQUIRE(link);
        CHECK(make_tip_counter(contacts_profile(i % 2 == 0), std::move(*link), *clock, context));
    }
}
