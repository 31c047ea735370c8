#include "bench/program/page/trial.hpp"

#include <atomic>
#include <charconv>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <thread>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/page/begin_run.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

constexpr double speed = 20;
constexpr int years = 3;
constexpr std::chrono::milliseconds child_look_every{50};
constexpr const char* given_first = "given on the first day";
constexpr const char* maker = "A. Signatory";
constexpr const char* checker = "C. Checker";
constexpr const char* customer = "Weather Service of Gaugewick (invented)";
constexpr const char* gauges[] = {"demo-bucket-150", "demo-bucket-200-twin", "demo-siphon-200",
                                  "demo-magnet-spoon-160"};
// Plans long enough to watch; the last leaves the most to be seen.
constexpr const char* lanes =
    "title = \"Trial\"\n"
    "[[lane]]\nname = \"left\"\nbench = \"bench.toml\"\ngauge = \"demo-bucket-200-twin\"\nplan = "
    "\"ten-rate\"\n"
    "[[lane]]\nname = \"middle\"\nbench = \"bench.toml\"\ngauge = \"demo-siphon-200\"\nplan = "
    "\"five-point-as-found\"\nseed = 2\n"
    "[[lane]]\nname = \"right\"\nbench = \"bench.toml\"\ngauge = \"demo-magnet-spoon-160\"\nplan = "
    "\"ten-rate\"\n"
    "seed = 3\n";

// The virtual bench with its instruments calibrated early in that year.
std::string bench_of_year(const std::string& text, int year) {
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size() - 1) + 1;
        std::string line = text.substr(at, end - at);
        at = end;
        const std::size_t digits = line.find("20");
        int before = 0;
        if ((line.starts_with("calibrated_on") || line.starts_with("due_on")) && digits + 4 <= line.size() &&
            std::from_chars(line.data() + digits, line.data() + digits + 4, before).ec == std::errc{}) {
            constexpr int year_of_template = 2026;
            line.replace(digits, 4, std::to_string(before - year_of_template + year));
        }
        out += line;
    }
    return out;
}

}  // namespace

struct Trial::State {
    CommonOptions common;
    fs::path folder;
    std::string bench_text;
    int this_year = 0;
    std::atomic<bool> ending{false};
    std::shared_ptr<std::atomic<bool>> filling_now = std::make_shared<std::atomic<bool>>(true);
    std::optional<Child> lanes_run;
    std::thread filling;
    std::optional<Fault> failed;  // the filling

    std::vector<std::string> environment(const std::string& now) const {
        return {"TIPWRIGHT_SETTINGS=",
                "TIPWRIGHT_REGISTER=" + (folder / "register").string(),
                "TIPWRIGHT_KEYS=" + (folder / "keys").string(),
                "TIPWRIGHT_WORK=" + (folder / "work").string(),
                "TIPWRIGHT_TEMPLATES=" + common.templates.string(),
                "TIPWRIGHT_PERSON=",
                "TIPWRIGHT_LETTERHEAD=",
                "TIPWRIGHT_CHECK_GAUGE=",
                "TIPWRIGHT_TRIAL_NOW=" + now};
    }

    bool fails(const std::string& doing, const Fault& fault) {
        failed = Fault{fault.code, doing + ": " + fault.line(), "the trial's register is not filled", ""};
        return false;
    }

    // To its end, unless the trial ends before. False: it failed, or there is no time left.
    bool done(const std::string& now, std::vector<std::string> words,
              const std::vector<std::string>& secrets = {}) {
        if (ending) return false;
        auto child = Child::begin(words, environment(now), secrets);
        const std::string doing = words[0] + (words[1].starts_with('-') ? "" : " " + words[1]);
        if (!child) return fails(doing, child.fault());
        while (child->runs()) {
            if (ending) ::kill(child->process(), SIGINT);
            std::this_thread::sleep_for(child_look_every);
        }
        const Outcome outcome = child->outcome();
        return outcome || fails(doing, outcome.fault());
    }

    // A command of the register by one of the two.
    bool by(const char* person, const std::string& now, std::vector<std::string> words,
            const char* own = passphrase, const std::vector<std::string>& more = {}) {
        words.insert(words.end(),
                     {"--person", person, "--person-passphrase-fd", std::to_string(Child::first_secret)});
        std::vector<std::string> secrets{own};
        secrets.insert(secrets.end(), more.begin(), more.end());
        return done(now, words, secrets);
    }

    bool people(const std::string& now) {
        const std::string first = std::to_string(Child::first_secret);
        const std::string second = std::to_string(Child::first_secret + 1);
        return done(now, {"register", "create", "--logins", "--person", maker, "--new-passphrase-fd", first},
                    {passphrase}) &&
               by(maker, now, {"register", "person", "add", checker, "--may-check", "true"}) &&
               by(maker, now, {"register", "person", "passphrase", checker, "--new-passphrase-fd", second},
                  passphrase, {given_first}) &&
               by(checker, now, {"register", "person", "passphrase", "--new-passphrase-fd", second},
                  given_first, {passphrase}) &&
               by(maker, now,
                  {"register", "customer", "add", customer, "--interval-months", "12", "--agreed",
                   "invented order 17"}) &&
               done(now, {"keys", "make", "--passphrase-fd", first}, {passphrase});
    }

    // All gauges once: measured, drafted, checked by the second person, issued.
    bool year_of(int year, int& next_draft) {
        const std::string day = std::to_string(year) + "-11-1" + std::to_string(year % 10);
        const std::string now = day + "T15:00:00Z";
        const fs::path bench = folder / ("bench-" + std::to_string(year) + ".toml");
        if (auto written = write_file(bench, bench_of_year(bench_text, year)); !written)
            return fails("its benches", written.fault());
        std::vector<std::string> draft{"certificate", "draft"};
        std::vector<std::string> ids;
        int seed = 7 * year;
        for (const char* gauge : gauges) {
            const fs::path out = folder / "years" / (day + "-" + gauge);
            if (!done(now, {"calibrate", "--bench", bench.string(), "--gauge", gauge, "--plan",
                            "five-point-as-found", "--started-at", day + "T08:00:00Z", "--seed",
                            std::to_string(++seed), "--out", out.string()}))
                return false;
            draft.push_back((out / "record.json").string());
            ids.push_back(std::to_string(next_draft++));
        }
        std::vector<std::string> check{"certificate", "check"};
        std::vector<std::string> issue{"certificate", "issue", "--passphrase-fd",
                                       std::to_string(Child::first_secret + 1)};
        draft.insert(draft.end(), {"--reason", "accepted for a trial"});
        check.insert(check.end(), ids.begin(), ids.end());
        issue.insert(issue.end(), ids.begin(), ids.end());
        return by(maker, now, draft) && by(checker, now, check) &&
               by(maker, now, issue, passphrase, {passphrase});
    }

    void fill() {
        const int first = this_year - years;
        if (!people(std::to_string(first) + "-01-05T09:00:00Z")) return;
        int next_draft = 1;
        for (int year = first; year < this_year; ++year)
            if (!year_of(year, next_draft)) return;
        by(maker, std::to_string(this_year - 1) + "-12-20T09:00:00Z",
           {"register", "service", "open", "INV-200-0003", "--condition", "dusty funnel, spider (invented)"});
    }
};

Trial::Trial(std::unique_ptr<State> state) : state_(std::move(state)) {}
Trial::Trial(Trial&&) noexcept = default;

Trial::~Trial() {
    if (!state_) return;
    state_->ending = true;
    if (state_->lanes_run && state_->lanes_run->runs()) {
        ::kill(state_->lanes_run->process(), SIGINT);
        state_->lanes_run->wait();
    }
    if (state_->filling.joinable()) state_->filling.join();
    std::error_code ignored;
    fs::remove_all(state_->folder, ignored);
}

Result<Trial> Trial::begin(const CommonOptions& common, Told tell_failed) {
    auto state = std::make_unique<State>();
    state->common = common;
    std::error_code error;
    state->common.templates = fs::absolute(common.templates, error);
    std::string name = (fs::temp_directory_path(error) / "tipwright-trial-XXXXXX").string();
    if (!::mkdtemp(name.data()))
        return Fault{FaultCode::file_unwritable, "no folder can be made for the trial", name, "set TMPDIR"};
    state->folder = name;
    Trial out(std::move(state));
    State& s = *out.state_;
    s.this_year = std::stoi(utc_now().substr(0, 4));
    const auto bench = bench::find_template(bench::TemplateKind::bench, "virtual-bench", common.templates);
    if (!bench) return bench.fault();
    s.bench_text = bench->text;
    const std::pair<const char*, std::string> files[] = {
        {"lanes.toml", lanes}, {"bench.toml", bench_of_year(s.bench_text, s.this_year)}};
    for (const auto& [file, text] : files)
        if (auto written = write_file(s.folder / file, text); !written) return written.fault();
    if (auto made = make_folder(out.work()); !made) return made.fault();
    auto run = Child::begin({"lanes", (s.folder / "lanes.toml").string(), "--out", out.work().string(),
                             "--speed", std::to_string(speed)},
                            s.environment(""));
    if (!run) return run.fault();
    s.lanes_run.emplace(std::move(*run));
    s.filling = std::thread([&s, tell_failed = std::move(tell_failed)] {
        s.fill();
        if (s.failed && !s.ending) tell_failed(*s.failed);
        *s.filling_now = false;
    });
    return out;
}

fs::path Trial::work() const {
    return state_->folder / "work";
}

void Trial::choose(DeskOptions& desk) const {
    desk.location = (state_->folder / "register").string();
    desk.check_gauge.clear();
    desk.keys = state_->folder / "keys";
    desk.bench = (state_->folder / "bench.toml").string();
    desk.plan_as_found = "five-point-as-found";
    desk.speed = speed;
    desk.filling = state_->filling_now;
}

std::string Trial::told() const {
    return std::string("log in   ") + maker + " or " + checker + ", passphrase: " + passphrase +
           " (the seal's too)\ngauges   INV-150-0001, INV-200-0002, INV-200-0003, INV-160-0004";
}

}  // namespace tipwright::program
