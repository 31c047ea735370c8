// What the page needs before it is served over a network: by which certificate it is known, under which
// names, which devices are paired. Certificate, key and list are kept in the person's state folder:
// $XDG_STATE_HOME/tipwright/page, else ~/.local/state/tipwright/page.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "bench/page/desk/pairing.hpp"
#include "bench/page/http/identity.hpp"

namespace tipwright::program {

struct NetworkOptions {
    std::filesystem::path certificate, key;  // PEM; empty: one made at first start
    std::vector<std::string> names;          // by which devices know this machine, besides its own
    bool forget_devices = false;             // all of them
    std::vector<std::string> forget;         // those of these names
};

struct Network {
    page::Identity identity;
    std::string fingerprint;
    bool made_now = false;           // the certificate, at this start
    std::vector<std::string> hosts;  // as they stand in a URL; the first is shown
    std::vector<page::PairedDevice> devices;
    std::filesystem::path devices_file;
};

// `address`: an IP address that is not a loopback's. Faults: of the files; not_permitted (others can read the
// key; the certificate's time is over), inconsistent, damaged, usage (one of certificate and key alone).
Result<Network> prepare_network(const NetworkOptions& options, const std::string& address,
                                const std::string& today);
// Mode 0600.
Outcome keep_devices(const std::filesystem::path& file, const std::vector<page::PairedDevice>& devices);

// A square code of half blocks, two modules a line, with its quiet zone; `colours`: dark on light whatever
// the terminal's own are. Empty: the text is too long.
std::string square_code(const std::string& text, bool colours);

}  // namespace tipwright::program
