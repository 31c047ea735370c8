
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/links/ports.hpp"
#include "bench/program/command.hpp"
#include "bench/program/instruments/commands.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

namespace {

std::string usb_text(const bench::SerialPortInfo& port) {
    if (!port.usb) return port.description;
    char id[16];
    std::snprintf(id, sizeof id, "%04x:%04x", port.usb_vendor & 0xFFFF, port.usb_product & 0xFFFF);
    std::string text = id;
    for (const std::string& words : {port.usb_manufacturer, port.usb_product_name}) {
        if (!words.empty()) text += " " + visible(words);
    }
    return text;
}

ExitCode ports(const CommonOptions& common) {
    const auto ports = bench::list_serial_ports();
    if (!ports) return fail(common, ports.fault());
    if (common.json) {
        nlohmann::ordered_json list = nlohmann::ordered_json::array();
        for (const auto& port : *ports) {
            list.push_back({{"path", port.path},
                            {"description", port.description},
                            {"usb", port.usb},
                            {"usb_vendor", port.usb_vendor},
                            {"usb_product", port.usb_product},
                            {"usb_manufacturer", port.usb_manufacturer},
                            {"usb_product_name", port.usb_product_name},
                            {"usb_serial", port.usb_serial}});
        }
        const nlohmann::ordered_json document = {{"ok", true}, {"ports", list}};
        print_json(document);
        return ExitCode::done;
    }
    if (ports->empty()) {
        print_to(stdout,
                 "No serial port found. Plug the adapter in; a container sees only the ports it is given.\n");
        return ExitCode::done;
    }
    print_to(stdout, "%-16s %-26s %s\n", "path", "by USB serial number", "what it is");
    for (const auto& port : *ports) {
        print_to(stdout, "%-16s %-26s %s\n", port.path.c_str(),
                 port.usb_serial.empty() ? "-" : ("usb:" + visible(port.usb_serial)).c_str(),
                 usb_text(port).c_str());
    }
    print_to(stdout, "\nIn a bench description: link = \"serial %s\"\n",
             (*ports)[0].usb_serial.empty() ? (*ports)[0].path.c_str()
                                            : ("usb:" + visible((*ports)[0].usb_serial)).c_str());
    return ExitCode::done;
}

}  // namespace

void add_ports(CommandLine& line) {
    auto command =
        line.app.add_subcommand("ports", "List the serial ports, with what their USB adapters are");
    command.on_chosen([&line] { line.chosen = [&line] { return ports(line.common); }; });
}

}  // namespace tipwright::program
