// The register's speed and size: issuing one certificate and a thousand, with documents drawn as the program
// draws them; and questions to a register of a million certificates over ten years (four benches, 250000
// gauges of 2000 customers; large_register.hpp). "issue" or "ask" as an argument does one half, "load FOLDER"
// makes the million there and nothing else. Set REGISTER_FIGURES_CERTIFICATES for a smaller one.
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>

#include "bench/program/register/maker.hpp"
#include "report/files/fingerprint.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/report/scratch_folder.hpp"
#include "tests/support/large_register.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using report::Actor;
using report::Id;

namespace {

constexpr const char* birth = "2026-01-01T00:00:00Z";
const Actor signatory{"A. Signatory", "2026-03-05T09:00:00Z"};
const Actor checker{"C. Checker", "2026-03-05T09:00:00Z"};

template <class T>
T need(Result<T> result) {
    if (!result) {
        std::fprintf(stderr, "register_figures: %s\n", result.fault().line().c_str());
        std::exit(1);
    }
    return std::move(result.value());
}

void figure(const char* name, double value, int decimals, const char* unit, double limit) {
    std::printf("figure %s %.*f %s limit <= %g %s\n", name, decimals, value, unit, limit,
                value <= limit ? "ok" : "short");
    std::fflush(stdout);
}

using Clock = std::chrono::steady_clock;

double ms_since(Clock::time_point begin) {
    return std::chrono::duration<double, std::milli>(Clock::now() - begin).count();
}

double part(std::vector<double> values, double share) {
    std::sort(values.begin(), values.end());
    return values[std::min(values.size() - 1,
                           static_cast<std::size_t>(share * static_cast<double>(values.size())))];
}

double resident_MiB() {
    std::ifstream in("/proc/self/statm");
    double size = 0;
    double resident = 0;
    in >> size >> resident;
    return resident * static_cast<double>(::sysconf(_SC_PAGESIZE)) / (1 << 20);
}

report::Record record_of(const std::string& serial) {
    test::SampleOptions wish;
    wish.intensities_mm_h = {6, 15, 30, 50, 75, 100, 130, 170, 200, 254};
    report::Record record = test::sample_record(wish);
    record.number = "DRAFT";
    record.authorised_by.clear();
    record.issued_on.clear();
    record.identity.serial = serial;
    record.state = report::State::as_found;
    record.started_at = "2026-03-02T08:14:00Z";
    record.ended_at = "2026-03-02T10:51:20Z";
    record.source_sha256 = report::sha256_hex(serial);
    return record;
}

void issuing(const std::string& folder) {
    constexpr int singles = 41;
    constexpr std::size_t batch = 1000;
    constexpr std::size_t group = 16;
    constexpr int threads = 2;
    const std::string location = folder + "/issuing";
    auto reg = need(report::Register::open(location, birth, true));
    need(reg.put_person({"A. Signatory", birth}, {0, "A. Signatory", true, true, true, true}));
    need(reg.put_person({"A. Signatory", birth}, {0, "C. Checker", true, true, false, true}));
    const seal::SigningKey key = seal::SigningKey::from_seed({1, 2, 3});
    program::CommonOptions common;
    common.templates = tipwright::test::source_dir() + "/templates";
    const auto maker = need(program::CertificateMaker::load(common, {}));
    const auto draw = [&](const report::IssueSheet& sheet) { return maker.documents(sheet, key); };
    std::vector<Id> ids;
    for (std::size_t i = 0; i < singles + batch; ++i) {
        report::Draft draft;
        draft.as_found = need(reg.enter_record(signatory, record_of("EX-" + std::to_string(i)), "B1"));
        ids.push_back(need(reg.draft(signatory, draft)));
        need(reg.mark_checked(checker, ids.back()));
    }
    std::vector<double> times;
    const std::clock_t worked = std::clock();
    for (std::size_t i = 0; i < singles; ++i) {
        const auto begin = Clock::now();
        need(reg.issue(signatory, ids[i], "B1", key, draw));
        times.push_back(ms_since(begin));
    }
    const double processor_ms =
        1000.0 * static_cast<double>(std::clock() - worked) / CLOCKS_PER_SEC / singles;
    figure("register_issue_ms", part(times, 0.5), 1, "ms", 100);
    figure("register_issue_processor_ms", processor_ms, 1, "ms", 25);
    std::printf("reference register_issue_slowest_ms %.1f ms\n", part(times, 1));

    report::IssueOptions how;
    how.threads = threads;
    how.group = group;
    const auto begin = Clock::now();
    double early = 0;
    for (std::size_t at = singles; at < ids.size(); at += group) {
        const std::vector<Id> some(
            ids.begin() + static_cast<std::ptrdiff_t>(at),
            ids.begin() + static_cast<std::ptrdiff_t>(std::min(ids.size(), at + group)));
        for (auto& answer : reg.issue_many(signatory, some, "B1", key, draw, how)) need(std::move(answer));
        if (early == 0 && at > singles + batch / 4) early = resident_MiB();
    }
    figure("register_issue_1000_s", ms_since(begin) / 1000, 1, "s", 60);
    figure("register_issue_memory_growth_MiB", resident_MiB() - early, 1, "MiB", 16);
    { const auto closed = std::move(reg); }  // the last to go folds the log of writes into the database
    double bytes = 0;
    for (const char* name : {"register.sqlite", "register.sqlite-wal"}) {
        std::error_code none;
        const auto size = std::filesystem::file_size(location + "/" + name, none);
        if (!none) bytes += static_cast<double>(size);
    }
    std::printf("reference register_1041_bytes_a_certificate %.0f B\n", bytes / (singles + batch));
}

void asking(const std::string& folder, long certificates) {
    const std::string location = folder + "/million";
    test::make_large_register(location, certificates);
    const std::string file = location + "/register.sqlite";
    figure("register_bytes_a_certificate",
           static_cast<double>(std::filesystem::file_size(file)) / static_cast<double>(certificates), 0, "B",
           2048);
    auto reg = need(report::Register::open(location, "2037-01-02T00:00:00Z"));
    std::mt19937 random(1);
    const auto below = [&](long n) { return static_cast<long>(random() % static_cast<unsigned long>(n)); };
    const auto digits = [](long value, std::size_t width) {
        const std::string text = std::to_string(value);
        return std::string(text.size() < width ? width - text.size() : 0, '0') + text;
    };
    const auto serial = [&] { return "G-" + digits(1 + below(certificates / 4), 7); };
    const auto p99 = [&](const char* name, int times, double limit, const auto& ask) {
        std::vector<double> taken;
        std::vector<double> processor;
        std::size_t most = 0;
        for (int i = 0; i < times; ++i) {
            const std::clock_t worked = std::clock();
            const auto begin = Clock::now();
            const std::size_t rows = ask();
            taken.push_back(ms_since(begin));
            processor.push_back(1000.0 * static_cast<double>(std::clock() - worked) / CLOCKS_PER_SEC);
            most = std::max(most, rows);
        }
        figure(name, part(taken, 0.99), 2, "ms", limit);
        // On a machine that others use as well, the processor's time says what an idle one would take.
        std::printf("reference %s: median %.2f ms, processor p99 %.2f ms, at most %zu rows\n", name,
                    part(taken, 0.5), part(processor, 0.99), most);
    };
    p99("register_serial_p99_ms", 2000, 2, [&] { return need(reg.gauges_with_serial(serial())).size(); });
    p99("register_life_p99_ms", 1000, 2, [&] { return need(reg.life(serial())).size(); });
    report::ListFilter filter;
    const auto month = [&](long count) {
        return digits(2036 + count / 12, 4) + "-" + digits(1 + count % 12, 2);
    };
    p99("register_due_customer_p99_ms", 300, 50, [&] {
        filter = {};
        filter.customer = "Customer " + std::to_string(1 + below(2000)) + " (invented)";
        return need(reg.due(filter)).rows.size();
    });
    p99("register_due_month_p99_ms", 300, 50, [&] {
        filter = {};
        filter.from_month = filter.to_month = month(5 + below(28));
        return need(reg.due(filter)).rows.size();
    });
    const auto recall = [&](int days) {
        std::tm start{};
        start.tm_year = 127;
        start.tm_mday = 1 + static_cast<int>(below(3500));
        std::tm end = start;
        end.tm_mday += days;
        const auto text = [](std::tm day) {
            const std::time_t seconds = ::timegm(&day);
            char out[16];
            std::strftime(out, sizeof out, "%Y-%m-%d", ::gmtime(&seconds));
            return std::string(out);
        };
        return need(reg.recall(1 + below(16), text(start), text(end))).rows.size();
    };
    p99("register_recall_month_p99_ms", 300, 100, [&] { return recall(30); });
    std::vector<double> year;
    for (int i = 0; i < 10; ++i) {
        const auto begin = Clock::now();
        recall(365);
        year.push_back(ms_since(begin));
    }
    std::printf("reference register_recall_year_ms %.0f ms\n", part(year, 0.5));
    const auto begin = Clock::now();
    const std::size_t drifted = need(reg.drifted("kind-1", 2, 3, "2036-10-01")).rows.size();
    std::printf("reference register_drift_of_a_kind_ms %.0f ms, %zu rows\n", ms_since(begin), drifted);
}

}  // namespace

int main(int argc, char** argv) {
    const char* wish = std::getenv("REGISTER_FIGURES_CERTIFICATES");
    const long certificates = wish != nullptr ? std::max(1000L, std::atol(wish)) : 1000000;
    const std::string part_of = argc > 1 ? argv[1] : "";
    if (part_of == "load" && argc > 2) {
        test::make_large_register(argv[2], certificates);
        return 0;
    }
    const test::ScratchFolder folder;
    if (part_of != "ask") issuing(folder.path());
    if (part_of != "issue") asking(folder.path(), certificates);
    return 0;
}
