#include "bench/program/page/page.hpp"

#include <unistd.h>

#include <boost/asio/ip/address.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <chrono>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/page/http/server.hpp"
#include "bench/page/http/site.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/page/came_out.hpp"
#include "bench/program/page/network.hpp"
#include "bench/program/page/register_desk.hpp"
#include "bench/program/page/trial.hpp"
#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/passphrase.hpp"
#include "bench/program/shown.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

// Many entries come together; a browser hears of them so often.
constexpr std::chrono::milliseconds tell_every{100};

struct PageOptions {
    std::filesystem::path folder = "work";
    bool trial = false;
    DeskOptions desk;
    Session session;
    std::string address = "127.0.0.1";
    std::uint16_t port = 8640;
    NetworkOptions network;
};

// Gathers changes, and tells them a little later.
class Teller {
public:
    Teller(asio::io_context& context, page::Site*& site) : timer_(context), site_(site) {}

    void changed(bool runs_too) {
        runs_too_ = runs_too_ || runs_too;
        if (waiting_) return;
        waiting_ = true;
        timer_.expires_after(tell_every);
        timer_.async_wait([this](const boost::system::error_code& error) {
            if (error) return;
            waiting_ = false;
            if (site_) site_->tell_changes(std::exchange(runs_too_, false));
        });
    }

private:
    asio::steady_timer timer_;
    page::Site*& site_;
    bool waiting_ = false;
    bool runs_too_ = false;
};

// Whether it leads to other machines.
Result<bool> is_network(const PageOptions& options) {
    boost::system::error_code error;
    const auto parsed = asio::ip::make_address(options.address, error);
    if (error)
        return Fault{
            FaultCode::bad_value, in_quotes(options.address) + " is not an address", "--address",
            "give an IP address of this machine, 0.0.0.0 for all of them, or 127.0.0.1 for this machine "
            "alone"};
    const NetworkOptions& network = options.network;
    const bool asked = !network.certificate.empty() || !network.key.empty() || !network.names.empty() ||
                       network.forget_devices || !network.forget.empty();
    if (parsed.is_loopback() && asked)
        return Fault{FaultCode::usage, "certificate, names and devices are for a page over a network",
                     "--address", "give the address that other machines reach this one by, or 0.0.0.0"};
    return !parsed.is_loopback();
}

// Tells the terminal, and programs, what a device needs to be paired.
class Door {
public:
    Door(const CommonOptions& common, Network network, std::string url)
        : common_(common), network_(std::move(network)), url_(std::move(url)) {}

    std::shared_ptr<page::Pairing> open() {
        pairing_ = std::make_shared<page::Pairing>(
            network_.devices,
            [this](const std::vector<page::PairedDevice>& devices) {
                return keep_devices(network_.devices_file, devices);
            },
            [this](const page::PairedDevice& device, const std::string& code) { paired(device, code); });
        return pairing_;
    }
    const std::string& code() const { return pairing_->code(); }
    const std::string& fingerprint() const { return network_.fingerprint; }

    void tell() const {
        print_to(stdout, "%-8s %s%s\n", "SHA-256", network_.fingerprint,
                 network_.made_now ? "  (certificate made now)" : "");
        print_to(stdout,
                 "         Compare it with what the browser shows of the certificate before you go on.\n");
        tell_code(pairing_->code());
    }

private:
    void paired(const page::PairedDevice& device, const std::string& code) const {
        if (common_.json) {
            print_to(stdout, "%s\n",
                     nlohmann::json{{"paired", device.name}, {"pairing_code", code}}.dump(
                         -1, ' ', true, nlohmann::json::error_handler_t::replace));
        } else {
            print_to(stdout, "\npaired   %s, %s\n", device.name, device.paired_at);
            tell_code(code);
        }
        std::fflush(stdout);
    }
    void tell_code(const std::string& code) const {
        print_to(stdout, "%-8s %s  (for one device)\n", "pair", code);
        print_to(stdout, "%s", Drawn{square_code(url_ + "pair?code=" + code, ::isatty(STDOUT_FILENO) == 1)});
    }

    const CommonOptions& common_;
    Network network_;
    std::string url_;
    std::shared_ptr<page::Pairing> pairing_;
};

ExitCode serve_page(const CommonOptions& common, const PageOptions& given) {
    tell_unlocked_memory();
    PageOptions options = given;
    const auto outside = is_network(options);
    if (!outside) return fail(common, outside.fault());
    std::optional<Network> network;
    if (*outside) {
        auto prepared = prepare_network(options.network, options.address, utc_now().substr(0, 10));
        if (!prepared) return fail(common, prepared.fault());
        network.emplace(std::move(*prepared));
    }
    options.desk.common = common;
    options.desk.location = options.session.location;
    std::optional<Trial> trial;
    if (options.trial) {
        auto begun = Trial::begin(
            common, [](const Fault& fault) { print_to(stderr, "tipwright: warning: %s\n", fault.line()); });
        if (!begun) return fail(common, begun.fault());
        trial.emplace(std::move(*begun));
        options.folder = trial->work();
        trial->choose(options.desk);
    }
    if (!options.trial && options.folder == "work")
        if (auto made = make_folder(options.folder); !made) return fail(common, made.fault());
    asio::io_context context(1);
    page::Site* told = nullptr;
    Teller teller(context, told);
    page::Hub hub;
    auto server = page::Server::open(context, options.address, options.port, {},
                                     network ? std::optional(network->identity) : std::nullopt);
    if (!server) return fail(common, server.fault());
    auto work = page::WorkFolder::open(
        context, options.folder, [&](bool runs_too) { teller.changed(runs_too); }, came_out_of_run);
    if (!work) return fail(common, work.fault());
    const std::string port = std::to_string((*server)->port());
    page::SiteOptions site_options;
    site_options.templates = common.templates;
    site_options.local_moment = shown_moment;
    if (inches_shown()) site_options.other_unit = [](double mm_h) { return inches_per_hour(mm_h) + " in/h"; };
    if (trial) site_options.trial_passphrase = Trial::passphrase;
    std::vector<std::string> hosts{"127.0.0.1", "localhost", "[::1]"};
    if (network) hosts = network->hosts;
    const std::string at_port = ":" + port;
    for (const std::string& host : hosts) site_options.names.hosts.push_back(host + at_port);
    // As browsers leave out the usual port.
    if (port == (network ? "443" : "80"))
        site_options.names.hosts.insert(site_options.names.hosts.end(), hosts.begin(), hosts.end());
    site_options.names.encrypted = network.has_value();
    site_options.utc_now = utc_now;
    const bool six = options.address.find(':') != std::string::npos;
    const std::string shown = network ? hosts.front() : six ? "[" + options.address + "]" : options.address;
    const std::string url = (network ? "https://" : "http://") + shown + ":" + port + "/";
    std::optional<Door> door;
    if (network) {
        door.emplace(common, std::move(*network), url);
        site_options.pairing = door->open();
    }
    options.desk.work = (*work)->folder();
    const auto desk = make_desk(options.desk);
    auto site = page::Site::open(site_options, **work, hub, desk.get());
    if (!site) return fail(common, site.fault());
    told = site->get();
    (*server)->serve([&](page::Request request) { return told->answer(std::move(request)); },
                     [&](const std::string& language) { return told->everything(language); }, hub);
    if (common.json) {
        nlohmann::ordered_json told_now = {{"ok", true}, {"url", url}, {"runs", (*work)->folder().string()}};
        if (door) {
            told_now["fingerprint_sha256"] = door->fingerprint();
            told_now["pairing_code"] = door->code();
        }
        print_to(stdout, "%s\n", told_now.dump(-1, ' ', true, nlohmann::json::error_handler_t::replace));
    } else {
        print_to(stdout, "%-8s %s\n%-8s %s\n", "page", url, "runs", (*work)->folder());
        if (door) door->tell();
        if (trial) print_lines(stdout, trial->told());
        print_to(stdout, "Ctrl-C ends the page; %s.\n", trial ? "the trial ends with it" : "runs go on");
    }
    std::fflush(stdout);
    asio::signal_set signals(context, SIGINT, SIGTERM);
    signals.async_wait([&](const boost::system::error_code&, int) { context.stop(); });
    context.run();
    // The desk's thread ends before what it works with.
    server->reset();
    return ExitCode::done;
}

}  // namespace

void add_page(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "page", "Serve a page that shows every run as it happens", serve_page);
    command.add_option("folder", options->folder, "Folder of the runs")
        .environment("TIPWRIGHT_WORK")
        .type_name("DIR")
        .show_default();
    command.add_flag("--trial", options->trial,
                     "Three virtual lanes at twenty times real time and a register of invented years");
    command.add_option("--port", options->port, "Port to listen on; 0: any free one").show_default();
    command
        .add_option(
            "--address", options->address,
            "Address to listen on (0.0.0.0: all); other machines are served over TLS, and only if paired")
        .type_name("IP")
        .show_default();
    command
        .add_option("--certificate", options->network.certificate,
                    "Certificate of this machine, PEM (default: one made at first start)")
        .type_name("FILE")
        .group("Network");
    command.add_option("--key", options->network.key, "Its private key, PEM without a passphrase")
        .type_name("FILE")
        .group("Network");
    command.add_option("--name", options->network.names, "Another name by which devices reach this machine")
        .type_name("HOST")
        .group("Network");
    command.add_flag("--forget-devices", options->network.forget_devices, "All devices must be paired again")
        .group("Network");
    command
        .add_option("--forget-device", options->network.forget,
                    "Devices of this name must be paired again: for one that was lost")
        .type_name("NAME")
        .group("Network");
    command
        .add_option("--bench", options->desk.bench,
                    "Description of the bench that runs are started on (default: one of the templates)")
        .type_name("FILE");
    // Only the settings give these.
    command.add_option("--plan-as-found", options->desk.plan_as_found).group("");
    command.add_option("--plan-as-left", options->desk.plan_as_left).group("");
    add_session(command, options->session, false);
    options->desk.bench_code = default_bench;
    add_bench_code(command, options->desk.bench_code);
    add_keys_folder(command, options->desk.keys);
    add_layout(command, options->desk.layout);
    add_check_gauge(command, options->desk.check_gauge);
}

}  // namespace tipwright::program
