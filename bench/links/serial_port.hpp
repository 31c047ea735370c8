// Serial port: a port opened and configured by libserialport, whose handle others read and write.
// One program at a time: the port is locked while it is open.
#pragma once

#include <memory>
#include <string>

#include "bench/links/serial_settings.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

class SerialPort {
public:
    // `port`: a path, or usb: and the serial number of the adapter.
    static Result<std::unique_ptr<SerialPort>> open(const std::string& port, const SerialSettings& settings);
    ~SerialPort();
    SerialPort(const SerialPort&) = delete;
    SerialPort& operator=(const SerialPort&) = delete;

    int handle() const { return handle_; }
    const std::string& path() const { return path_; }

private:
    SerialPort() = default;

    void* port_ = nullptr;  // sp_port; the library's header stays out of here
    int handle_ = -1;
    std::string path_;
};

}  // namespace tipwright::bench
