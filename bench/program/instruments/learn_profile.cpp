// listen --learn: the dialogue of learning a profile, on the terminal.
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <nlohmann/json.hpp>
#include <optional>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/instruments/learn/session.hpp"
#include "bench/links/traffic.hpp"
#include "bench/program/command.hpp"
#include "bench/program/instruments/learn_profile.hpp"
#include "bench/program/instruments/sent_unguarded.hpp"
#include "bench/program/run/drive.hpp"
#include "bench/program/terminal.hpp"
#include "bench/run/run.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

constexpr double look_for_keys_s = 0.05;
constexpr std::size_t longest_answer = 4096;
constexpr double learn_hang_s = 2;

// Who sits at the keyboard: asked on standard error, so that standard output holds the result alone.
class AtTheKeyboard final : public bench::LearnPerson {
public:
    explicit AtTheKeyboard(bench::Clock& clock) : clock_(clock) {}

    void say(const std::string& text) override { print_lines(stderr, text); }

    bench::Task<std::optional<std::string>> answer() override {
        while (true) {
            if (const auto end = typed_.find('\n'); end != std::string::npos) {
                std::string line = typed_.substr(0, end);
                typed_.erase(0, end + 1);
                while (!line.empty() && (line.back() == '\r' || line.back() == ' ')) line.pop_back();
                co_return line;
            }
            pollfd input{STDIN_FILENO, POLLIN, 0};
            if (::poll(&input, 1, 0) <= 0) {
                co_await clock_.sleep_for(look_for_keys_s);
                continue;
            }
            char buffer[256];
            const ssize_t n = ::read(STDIN_FILENO, buffer, sizeof buffer);
            if (n < 0 && (errno == EINTR || errno == EAGAIN)) continue;
            if (n <= 0 || typed_.size() > longest_answer) co_return std::nullopt;
            typed_.append(buffer, static_cast<std::size_t>(n));
        }
    }

private:
    bench::Clock& clock_;
    std::string typed_;
};

struct LearnTarget {
    std::string link;
    bench::SerialSettings serial;
    std::optional<bench::Role> role;
};

std::optional<bench::Role> role_named(const std::string& name) {
    for (const bench::Role role :
         {bench::Role::balance, bench::Role::pump, bench::Role::counter, bench::Role::climate})
        if (bench::name_of(role) == name) return role;
    return std::nullopt;
}

Result<LearnTarget> target_of(const CommonOptions& common, const LearnOptions& options) {
    LearnTarget target{options.link, options.serial, role_named(options.role)};
    if (target.link.empty() && !options.bench.empty()) {
        const auto bench = bench::load_bench(options.bench, common.templates);
        if (!bench) return bench.fault();
        for (const auto& one : bench->instruments)
            if (one.role == options.role) target.link = one.link;
    }
    if (target.link.empty())
        return Fault{FaultCode::usage, "no link is given", "command line",
                     "give --link, or --bench and --role"};
    if (target.link.starts_with("virtual") || target.link.starts_with("replay"))
        return Fault{FaultCode::usage, "only a real instrument can be learned", "--link",
                     "give its link; 'tipwright serve' makes some for trials"};
    return target;
}

Result<bench::LearnRequest> request_of(const LearnOptions& options, const LearnTarget& target) {
    bench::LearnRequest request;
    request.title = "Learned: " + options.file.stem().string();
    request.serial = target.serial;
    request.mass_g = options.mass_g.value_or(0);
    if (options.send.size() > 1)
        return Fault{FaultCode::usage, "one question is asked again and again", "--send", "give one"};
    if (options.send.empty()) return request;
    auto bytes = bench::unescaped_bytes(options.send.front());
    if (!bytes)
        return Fault{FaultCode::bad_value, in_quotes(options.send.front()) + " has an invalid escape",
                     "--send", "write \\r, \\n, \\t, \\\\, \\\" or \\x and two hexadecimal digits"};
    request.question_ending = bytes->ends_with("\r\n") ? "CRLF"
                              : bytes->ends_with('\r') ? "CR"
                              : bytes->ends_with('\n') ? "LF"
                                                       : "none";
    while (!bytes->empty() && (bytes->back() == '\r' || bytes->back() == '\n')) bytes->pop_back();
    if (bytes->empty() ||
        !std::all_of(bytes->begin(), bytes->end(), [](char c) { return c >= 0x20 && c < 0x7f; }))
        return Fault{FaultCode::bad_value, "the question is not printable ASCII", "--send",
                     "give it as the manual has it, its line end as \\r or \\r\\n"};
    request.question = *bytes;
    return request;
}

std::vector<bench::InstrumentProfile> known_profiles(const CommonOptions& common) {
    std::vector<bench::InstrumentProfile> out;
    const auto entries =
        bench::list_templates(bench::TemplateKind::profile, common.templates,
                              [](const std::string& file) -> Result<std::string> { return file; });
    if (!entries) return out;
    for (const auto& entry : *entries)
        if (auto profile = bench::load_profile(entry.name, common.templates))
            out.push_back(std::move(*profile));
    return out;
}

ExitCode tell(const CommonOptions& common, const LearnOptions& options,
              const bench::LearnedProfile& learned) {
    const std::string counts =
        std::to_string(learned.understood) + " of " + std::to_string(learned.lines) + " lines understood";
    if (common.json) {
        nlohmann::ordered_json document = {{"ok", true},
                                           {"file", options.file.string()},
                                           {"as", learned.as},
                                           {"lines", learned.lines},
                                           {"understood", learned.understood},
                                           {"questions", learned.doubts}};
        print_json(document);
        return ExitCode::done;
    }
    print_to(stdout, "%s: %s, %s\n", options.file,
             learned.as.empty() ? std::string("learned") : "as " + learned.as, counts);
    for (const std::string& doubt : learned.doubts) print_to(stdout, "  ? %s\n", doubt);
    print_to(stdout, "See it at work: tipwright listen --link ... --profile %s\n", options.file);
    return ExitCode::done;
}

}  // namespace

ExitCode learn_profile(const CommonOptions& common, const LearnOptions& options) {
    const auto target = target_of(common, options);
    if (!target) return fail(common, target.fault());
    auto request = request_of(options, *target);
    if (!request) return fail(common, request.fault());
    std::optional<bench::UnguardedRight> own;
    if (!options.send.empty()) {
        const bool no_pump = options.no_pump || (target->role && *target->role != bench::Role::pump);
        const auto right = right_to_send(no_pump, options.stop);
        if (!right) return fail(common, right.fault());
        own = *right;
    }
    asio::io_context context(1);
    const auto clock = bench::make_wall_clock(context);
    AtTheKeyboard person(*clock);
    // What was sent may have set a pump going: whatever ends the session says so.
    Display display(STDERR_FILENO);
    bench::Supervision supervision(context, supervision_of(learn_hang_s, display, {}));
    bench::RunControl control;
    supervision.enter(control, {});
    control.notify_with([&clock] { clock->stop(); });
    auto link = bench::make_link(context, target->link, target->serial);
    if (!link) return fail(common, link.fault(), ExitCode::bench_fault);
    if (!options.stop.empty())
        link = supervision.guard(std::move(*link), {{*bench::unescaped_bytes(options.stop)}});
    bench::LearnPlan plan{target->role, known_profiles(common), std::move(*request), own, options.watch_s};
    std::optional<Result<bench::LearnedProfile>> learned;
    const auto learn = [&]() -> bench::Task<void> {
        learned =
            co_await bench::learn_instrument(std::move(*link), *clock, context, person, std::move(plan));
        clock->stop();
    };
    asio::co_spawn(context, learn, asio::detached);
    supervision.begin();
    clock->run();
    if (!options.stop.empty()) supervision.stop_pumps();
    supervision.end();
    if (!options.stop.empty())
        display.say(stop_went_out);
    else if (!options.send.empty())
        display.cry(std::string("!! ") + sent_unguarded + "\n");
    suspend_if_asked(supervision, display);
    display.finish();
    if (!learned && control.requested()) return fail(common, *control.requested(), ExitCode::interrupted);
    if (!learned || !*learned)
        return fail(common,
                    learned
                        ? learned->fault()
                        : Fault{FaultCode::inconsistent, "the session did not finish", "listen --learn", ""},
                    ExitCode::bench_fault);
    if (const auto written = write_file(options.file, (*learned)->toml); !written)
        return fail(common, written.fault());
    return tell(common, options, **learned);
}

}  // namespace tipwright::program
