#include "bench/program/page.hpp"

#include <CLI/CLI.hpp>
#include <boost/asio/ip/address.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <chrono>
#include <csignal>
#include <cstdint>
#include <cstdio>

#include "bench/page/http/server.hpp"
#include "bench/page/http/site.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

// Many entries come together; a browser hears of them so often.
constexpr std::chrono::milliseconds tell_every{100};

struct PageOptions {
    std::filesystem::path folder = ".";
    std::string address = "127.0.0.1";
    std::uint16_t port = 8640;
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

Outcome check_address(const std::string& address) {
    boost::system::error_code error;
    const auto parsed = asio::ip::make_address(address, error);
    if (error)
        return Fault{FaultCode::bad_value, in_quotes(address) + " is not an address", "--address",
                     "give 127.0.0.1 or ::1"};
    if (parsed.is_loopback()) return Done{};
    return Fault{FaultCode::not_permitted, "the page is for this machine alone", "--address",
                 "give 127.0.0.1 or ::1"};
}

ExitCode serve_page(const CommonOptions& common, const PageOptions& options) {
    if (auto allowed = check_address(options.address); !allowed) return fail(common, allowed.fault());
    asio::io_context context(1);
    page::Site* told = nullptr;
    Teller teller(context, told);
    page::Hub hub;
    auto server = page::Server::open(context, options.address, options.port, {});
    if (!server) return fail(common, server.fault());
    auto work =
        page::WorkFolder::open(context, options.folder, [&](bool runs_too) { teller.changed(runs_too); });
    if (!work) return fail(common, work.fault());
    const std::string port = std::to_string((*server)->port());
    page::SiteOptions site_options;
    site_options.templates = common.templates;
    site_options.names.hosts = {"127.0.0.1:" + port, "localhost:" + port, "[::1]:" + port};
    auto site = page::Site::open(site_options, **work, hub);
    if (!site) return fail(common, site.fault());
    told = site->get();
    (*server)->serve([&](const page::Request& request) { return told->answer(request); },
                     [&](const std::string& language) { return told->everything(language); }, hub);
    const bool six = options.address.find(':') != std::string::npos;
    const std::string url =
        "http://" + (six ? "[" + options.address + "]" : options.address) + ":" + port + "/";
    if (common.json) {
        print_to(stdout, "{\"ok\": true, \"url\": \"%s\"}\n", url);
    } else {
        print_to(stdout, "%-8s %s\n%-8s %s\n", "page", url, "runs", (*work)->folder());
        print_to(stdout, "Ctrl-C ends the page; runs go on.\n");
    }
    std::fflush(stdout);
    asio::signal_set signals(context, SIGINT, SIGTERM);
    signals.async_wait([&](const boost::system::error_code&, int) { context.stop(); });
    context.run();
    return ExitCode::done;
}

}  // namespace

void add_page(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "page", "Serve a page that shows every run as it happens", serve_page);
    command.add_option("folder", options->folder, "Folder that the runs are in")
        ->type_name("DIR")
        ->capture_default_str();
    command.add_option("--port", options->port, "Port; 0: any that is free")->capture_default_str();
    command.add_option("--address", options->address, "Address of this machine")
        ->type_name("IP")
        ->capture_default_str();
}

}  // namespace tipwright::program
