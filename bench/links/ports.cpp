#include "bench/links/ports.hpp"

#include <libserialport.h>

#include <algorithm>

namespace tipwright::bench {

namespace {

std::string text_of(const char* text) {
    return text ? text : "";
}

}  // namespace

Result<std::vector<SerialPortInfo>> list_serial_ports() {
    sp_port** ports = nullptr;
    if (sp_list_ports(&ports) != SP_OK) {
        return Fault{FaultCode::file_unreadable, "the serial ports cannot be listed", "serial ports",
                     "check that /sys is readable"};
    }
    std::vector<SerialPortInfo> list;
    for (sp_port** port = ports; *port; ++port) {
        SerialPortInfo info;
        info.path = text_of(sp_get_port_name(*port));
        info.description = text_of(sp_get_port_description(*port));
        info.usb = sp_get_port_transport(*port) == SP_TRANSPORT_USB;
        if (info.usb) {
            sp_get_port_usb_vid_pid(*port, &info.usb_vendor, &info.usb_product);
            info.usb_manufacturer = text_of(sp_get_port_usb_manufacturer(*port));
            info.usb_product_name = text_of(sp_get_port_usb_product(*port));
            info.usb_serial = text_of(sp_get_port_usb_serial(*port));
        }
        list.push_back(std::move(info));
    }
    sp_free_port_list(ports);
    std::sort(list.begin(), list.end(),
              [](const SerialPortInfo& a, const SerialPortInfo& b) { return a.path < b.path; });
    return list;
}

}  // namespace tipwright::bench
