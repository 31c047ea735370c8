#include "bench/links/serial_port.hpp"

#include <libserialport.h>
#include <sys/file.h>
#include <termios.h>

#include <cerrno>

#include "bench/links/link_lock.hpp"
#include "bench/links/ports.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {

namespace {

constexpr std::string_view usb_prefix = "usb:";

sp_port* as_port(void* port) {
    return static_cast<sp_port*>(port);
}

std::string last_error() {
    char* message = sp_last_error_message();
    std::string text = message && *message ? message : "unknown error";
    sp_free_error_message(message);
    return text;
}

Result<std::string> path_of(const std::string& port) {
    if (!port.starts_with(usb_prefix)) return port;
    const std::string wanted = port.substr(usb_prefix.size());
    const auto ports = list_serial_ports();
    if (!ports) return ports.fault();
    std::string found;
    std::string present;
    for (const SerialPortInfo& info : *ports) {
        if (info.usb_serial.empty()) continue;
        add_part(present, info.usb_serial, ", ");
        if (info.usb_serial != wanted) continue;
        if (!found.empty()) {
            return Fault{
                FaultCode::duplicate,
                "both " + found + " and " + info.path + " have the USB serial number " + in_quotes(wanted),
                "link", "name the port by its path"};
        }
        found = info.path;
    }
    if (!found.empty()) return found;
    return Fault{FaultCode::file_missing,
                 "no USB adapter with the serial number " + in_quotes(wanted) + " is plugged in", "link",
                 present.empty() ? "plug it in" : "plug it in; present are " + present};
}

Fault cannot(const std::string& what, const std::string& path, const std::string& remedy) {
    return {FaultCode::link_lost, what + ": " + last_error(), path, remedy};
}

constexpr const char* check_settings = "check [serial] in the instrument's profile";

// One after the other: the system's reason is that of the last call.
Outcome configure(sp_port* port, const std::string& path, const SerialSettings& settings) {
    struct Step {
        const char* what;
        sp_return (*set)(sp_port* port, const SerialSettings& settings);
    };
    constexpr Step steps[] = {
        {"the line speed", [](sp_port* to, const SerialSettings& s) { return sp_set_baudrate(to, s.baud); }},
        {"the data bits", [](sp_port* to, const SerialSettings& s) { return sp_set_bits(to, s.data_bits); }},
        {"the parity",
         [](sp_port* to, const SerialSettings& s) {
             constexpr sp_parity parities[] = {SP_PARITY_NONE, SP_PARITY_EVEN, SP_PARITY_ODD};
             return sp_set_parity(to, parities[static_cast<int>(s.parity)]);
         }},
        {"the stop bits",
         [](sp_port* to, const SerialSettings& s) { return sp_set_stopbits(to, s.stop_bits); }},
        {"the flow control",
         [](sp_port* to, const SerialSettings& s) {
             constexpr sp_flowcontrol flows[] = {SP_FLOWCONTROL_NONE, SP_FLOWCONTROL_RTSCTS,
                                                 SP_FLOWCONTROL_XONXOFF};
             return sp_set_flowcontrol(to, flows[static_cast<int>(s.flow_control)]);
         }},
    };
    for (const Step& step : steps)
        if (step.set(port, settings) != SP_OK)
            return cannot(std::string("the port does not take ") + step.what, path, check_settings);
    return Done{};
}

}  // namespace

Result<std::unique_ptr<SerialPort>> SerialPort::open(const std::string& port,
                                                     const SerialSettings& settings) {
    const Result<std::string> path = path_of(port);
    if (!path) return path.fault();
    sp_port* raw = nullptr;
    if (sp_get_port_by_name(path->c_str(), &raw) != SP_OK) {
        return Fault{FaultCode::file_missing, "is not a serial port: " + last_error(), *path,
                     "'tipwright ports' shows which there are"};
    }
    std::unique_ptr<SerialPort> opened(new SerialPort);
    opened->port_ = raw;
    opened->path_ = *path;
    if (sp_open(raw, SP_MODE_READ_WRITE) != SP_OK) {
        return cannot("cannot be opened", *path,
                      "check its permissions (group dialout) and that it is plugged in");
    }
    if (sp_get_port_handle(raw, &opened->handle_) != SP_OK) return cannot("has no handle", *path, "");
    if (::flock(opened->handle_, LOCK_EX | LOCK_NB) != 0)
        if (const auto fault = lock_failure(errno, *path, "is in use by another program", lock_policy()))
            return *fault;
    if (Outcome configured = configure(raw, *path, settings); !configured) return configured.fault();
    // libserialport leaves reads returning nothing at once, which to a reader of streams is the end of it.
    termios terminal{};
    bool waits = ::tcgetattr(opened->handle_, &terminal) == 0;
    terminal.c_cc[VMIN] = 1;
    terminal.c_cc[VTIME] = 0;
    waits = waits && ::tcsetattr(opened->handle_, TCSANOW, &terminal) == 0;
    if (!waits) return cannot("the port does not take that a read waits for bytes", *path, check_settings);
    // What came before is of no use: it may be half a line, or of another speed.
    sp_flush(raw, SP_BUF_BOTH);
    return opened;
}

SerialPort::~SerialPort() {
    // Whoever keeps a copy of the handle, to stop a pump by, would hold the lock on.
    if (handle_ >= 0) static_cast<void>(::flock(handle_, LOCK_UN));
    if (handle_ >= 0) sp_close(as_port(port_));
    if (port_) sp_free_port(as_port(port_));
}

}  // namespace tipwright::bench
