#include "bench/program/page/page.hpp"

#include <CLI/CLI.hpp>
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
#include "bench/program/page/register_desk.hpp"
#include "bench/program/page/trial.hpp"
#include "bench/program/register/certificate_options.hpp"
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

ExitCode serve_page(const CommonOptions& common, const PageOptions& given) {
    PageOptions options = given;
    if (auto allowed = check_address(options.address); !allowed) return fail(common, allowed.fault());
    options.desk.common = common;
    options.desk.location = options.session.location;
    std::optional<Trial> trial;
    if (options.trial) {
        auto begun = Trial::begin(common);
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
    auto server = page::Server::open(context, options.address, options.port, {});
    if (!server) return fail(common, server.fault());
    auto work =
        page::WorkFolder::open(context, options.folder, [&](bool runs_too) { teller.changed(runs_too); });
    if (!work) return fail(common, work.fault());
    const std::string port = std::to_string((*server)->port());
    page::SiteOptions site_options;
    site_options.templates = common.templates;
    site_options.local_moment = shown_moment;
    if (trial) site_options.trial_passphrase = Trial::passphrase;
    site_options.names.hosts = {"127.0.0.1:" + port, "localhost:" + port, "[::1]:" + port};
    options.desk.work = (*work)->folder();
    const auto desk = make_desk(options.desk);
    auto site = page::Site::open(site_options, **work, hub, desk.get());
    if (!site) return fail(common, site.fault());
    told = site->get();
    (*server)->serve([&](page::Request request) { return told->answer(std::move(request)); },
                     [&](const std::string& language) { return told->everything(language); }, hub);
    const bool six = options.address.find(':') != std::string::npos;
    const std::string url =
        "http://" + (six ? "[" + options.address + "]" : options.address) + ":" + port + "/";
    if (common.json) {
        print_to(stdout, "%s\n",
                 nlohmann::json{{"ok", true}, {"url", url}, {"runs", (*work)->folder().string()}}.dump());
    } else {
        print_to(stdout, "%-8s %s\n%-8s %s\n", "page", url, "runs", (*work)->folder());
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
    command.add_option("folder", options->folder, "Folder that the runs are in")
        ->envname("TIPWRIGHT_WORK")
        ->type_name("DIR")
        ->capture_default_str();
    command.add_flag("--trial", options->trial,
                     "Three virtual lanes at twenty times real time and a register of invented years");
    command.add_option("--port", options->port, "Port; 0: any that is free")->capture_default_str();
    command.add_option("--address", options->address, "Address of this machine")
        ->type_name("IP")
        ->capture_default_str();
    command
        .add_option("--bench", options->desk.bench,
                    "Bench that runs are begun on (default: one of the templates)")
        ->type_name("FILE");
    // Only the settings give these.
    command.add_option("--plan-as-found", options->desk.plan_as_found)->group("");
    command.add_option("--plan-as-left", options->desk.plan_as_left)->group("");
    add_session(command, options->session, false);
    options->desk.bench_code = default_bench;
    add_bench_code(command, options->desk.bench_code);
    add_keys_folder(command, options->desk.keys);
    add_layout(command, options->desk.layout);
    add_check_gauge(command, options->desk.check_gauge);
}

}  // namespace tipwright::program
