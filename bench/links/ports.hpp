// Ports: the serial ports of this machine, with the identity of their USB adapters.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct SerialPortInfo {
    std::string path;         // "/dev/ttyUSB0"
    std::string description;  // as the system words it
    bool usb = false;
    int usb_vendor = 0;
    int usb_product = 0;
    std::string usb_manufacturer;
    std::string usb_product_name;
    std::string usb_serial;  // what "serial usb:..." names; empty when the adapter has none
};

// Ascending path.
Result<std::vector<SerialPortInfo>> list_serial_ports();

}  // namespace tipwright::bench
