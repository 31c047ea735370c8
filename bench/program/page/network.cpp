#include "bench/program/page/network.hpp"

#include <ifaddrs.h>
#include <netinet/in.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/ip/address.hpp>

#include "bench/program/environment.hpp"
#include "calib/base/joined.hpp"
#include "calib/base/text.hpp"
#include "report/files/files.hpp"
#include "report/seal/qr.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;
namespace ip = boost::asio::ip;

constexpr std::size_t most_bytes = 256u << 10;
constexpr unsigned of_others = 0007;
constexpr unsigned of_all_but_the_owner = 0077;

// "192.0.2.7", "[2001:db8::1]"
std::string in_url(const ip::address& address) {
    return address.is_v6() ? "[" + address.to_string() + "]" : address.to_string();
}

// Of this machine's interfaces; those of a loopback last, link-local ones (which need a zone) not at all.
std::vector<ip::address> own_addresses() {
    std::vector<ip::address> out;
    ifaddrs* first = nullptr;
    if (::getifaddrs(&first) != 0) return out;
    for (const ifaddrs* one = first; one != nullptr; one = one->ifa_next) {
        if (one->ifa_addr == nullptr) continue;
        if (one->ifa_addr->sa_family == AF_INET)
            out.emplace_back(
                ip::address_v4(ntohl(reinterpret_cast<const sockaddr_in*>(one->ifa_addr)->sin_addr.s_addr)));
        if (one->ifa_addr->sa_family == AF_INET6) {
            ip::address_v6::bytes_type bytes;
            const auto& six = reinterpret_cast<const sockaddr_in6*>(one->ifa_addr)->sin6_addr;
            std::copy(std::begin(six.s6_addr), std::end(six.s6_addr), bytes.begin());
            if (const ip::address_v6 address(bytes); !address.is_link_local()) out.emplace_back(address);
        }
    }
    ::freeifaddrs(first);
    std::stable_partition(out.begin(), out.end(), [](const ip::address& one) { return !one.is_loopback(); });
    return out;
}

struct Names {
    std::vector<std::string> in_certificate;
    std::vector<std::string> in_urls;

    void add(const ip::address& address) {
        in_certificate.push_back(address.to_string());
        in_urls.push_back(in_url(address));
    }
    void add(const std::string& host) {
        if (host.empty() || std::find(in_urls.begin(), in_urls.end(), host) != in_urls.end()) return;
        in_certificate.push_back(host);
        in_urls.push_back(host);
    }
};

Result<Names> names_of(const NetworkOptions& options, const std::string& address) {
    Names out;
    const ip::address asked = ip::make_address(address);
    if (asked.is_unspecified())
        for (const ip::address& one : own_addresses()) out.add(one);
    else
        out.add(asked);
    for (const std::string& name : options.names) {
        const bool plain =
            !name.empty() && name.size() <= 253 && std::all_of(name.begin(), name.end(), [](unsigned char c) {
                return std::isalnum(c) != 0 || c == '-' || c == '.' || c == '_';
            });
        if (!plain)
            return Fault{FaultCode::bad_value, in_quotes(name) + " is not the name of a machine", "--name",
                         "give it without port and slashes, as bench.example"};
        out.add(small_letters(name));
    }
    char host[256] = {};
    if (::gethostname(host, sizeof host - 1) == 0 && host[0] != 0) {
        const std::string small = small_letters(host);
        out.add(small);
        if (small.find('.') == std::string::npos) out.add(small + ".local");
    }
    if (asked.is_unspecified()) out.add(std::string("localhost"));
    return out;
}

Outcome check_mode(const fs::path& key, unsigned forbidden) {
    struct stat found {};
    if (::stat(key.c_str(), &found) != 0 || (found.st_mode & forbidden) == 0) return Done{};
    return Fault{FaultCode::not_permitted, "others can read this private key", key.string(),
                 "chmod 600 it, and have a new one made if it may have been read"};
}

Result<page::Identity> read_identity(const fs::path& certificate, const fs::path& key, unsigned forbidden,
                                     const std::string& today) {
    page::Identity out;
    auto pem = read_file(certificate, most_bytes, "name the certificate's file (PEM)");
    if (!pem) return pem.fault();
    if (auto hidden = check_mode(key, forbidden); !hidden) return hidden.fault();
    auto secret = read_file(key, most_bytes, "name the key's file (PEM)");
    if (!secret) return secret.fault();
    out.certificate_pem = std::move(*pem);
    out.key_pem = std::move(*secret);
    if (auto good = page::check_identity(out, today, certificate.string()); !good) return good.fault();
    return out;
}

// The own one, made at first start and when its time is over.
Outcome own_identity(const fs::path& folder, const std::vector<std::string>& names, const std::string& today,
                     Network& out) {
    const fs::path certificate = folder / "certificate.pem";
    const fs::path key = folder / "key.pem";
    std::error_code ignored;
    if (fs::exists(certificate, ignored) && fs::exists(key, ignored)) {
        auto kept = read_identity(certificate, key, of_all_but_the_owner, today);
        if (kept) {
            out.identity = std::move(*kept);
            return Done{};
        }
        Fault fault = kept.fault();
        const bool over = fault.code == FaultCode::not_permitted && fault.where == certificate.string();
        if (!over) {
            if (fault.code != FaultCode::not_permitted)
                fault.remedy = "remove " + folder.string() + ": both are then made anew";
            return fault;
        }
    }
    auto made = page::make_identity(names, today);
    if (!made) return made.fault();
    if (auto written = write_file(key, made->key_pem, 0600); !written) return written;
    if (auto written = write_file(certificate, made->certificate_pem); !written) return written;
    out.identity = std::move(*made);
    out.made_now = true;
    return Done{};
}

Outcome forget(const std::vector<std::string>& names, Network& network) {
    for (const std::string& name : names) {
        if (std::erase_if(network.devices, [&](const auto& one) { return one.name == name; }) > 0) continue;
        std::string known;
        for (const page::PairedDevice& one : network.devices) add_part(known, in_quotes(one.name), ", ");
        return Fault{FaultCode::bad_value, "no device " + in_quotes(name) + " is paired", "--forget-device",
                     known.empty() ? "none is paired" : "those paired are " + known};
    }
    return names.empty() ? Outcome(Done{}) : keep_devices(network.devices_file, network.devices);
}

}  // namespace

Result<Network> prepare_network(const NetworkOptions& options, const std::string& address,
                                const std::string& today) {
    Network out;
    const auto names = names_of(options, address);
    if (!names) return names.fault();
    out.hosts = names->in_urls;
    const fs::path folder = own_folder("XDG_STATE_HOME", ".local/state") / "page";
    if (auto made = make_folder(folder, 0700); !made) return made.fault();
    if (options.certificate.empty() != options.key.empty())
        return Fault{FaultCode::usage, "certificate and key go together", "--certificate",
                     "give both --certificate and --key, or neither"};
    if (options.certificate.empty()) {
        if (auto own = own_identity(folder, names->in_certificate, today, out); !own) return own.fault();
    } else {
        auto given = read_identity(options.certificate, options.key, of_others, today);
        if (!given) return given.fault();
        out.identity = std::move(*given);
    }
    auto fingerprint = page::fingerprint_of(out.identity);
    if (!fingerprint) return fingerprint.fault();
    out.fingerprint = std::move(*fingerprint);
    out.devices_file = folder / "devices.json";
    if (options.forget_devices)
        if (auto kept = keep_devices(out.devices_file, {}); !kept) return kept.fault();
    std::error_code ignored;
    if (fs::exists(out.devices_file, ignored)) {
        const auto text = read_file(out.devices_file, most_bytes);
        if (!text) return text.fault();
        auto devices = page::read_devices(*text, out.devices_file.string());
        if (!devices) return devices.fault();
        out.devices = std::move(*devices);
    }
    if (auto forgotten = forget(options.forget, out); !forgotten) return forgotten.fault();
    return out;
}

Outcome keep_devices(const fs::path& file, const std::vector<page::PairedDevice>& devices) {
    return write_file(file, page::devices_text(devices), 0600);
}

std::string square_code(const std::string& text, bool colours) {
    const auto code = seal::qr_matrix(text);
    if (!code) return "";
    constexpr int quiet = 4;
    const int side = code->side + 2 * quiet;
    const auto dark = [&](int row, int column) {
        const int r = row - quiet;
        const int c = column - quiet;
        return r >= 0 && c >= 0 && r < code->side && c < code->side && code->at(r, c);
    };
    std::string out;
    for (int row = 0; row < side; row += 2) {
        // Black on white; without colours a light module is drawn, for most terminals are dark.
        if (colours) out += "\x1b[30;107m";
        for (int column = 0; column < side; ++column) {
            const bool upper = dark(row, column) == colours;
            const bool lower = (row + 1 < side ? dark(row + 1, column) : false) == colours;
            out += upper && lower ? "\u2588" : upper ? "\u2580" : lower ? "\u2584" : " ";
        }
        if (colours) out += "\x1b[0m";
        out += "\n";
    }
    return out;
}

}  // namespace tipwright::program
