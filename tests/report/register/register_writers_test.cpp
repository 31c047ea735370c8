// Many writers at once, and writers that are killed: nothing is lost, numbers have no gaps, all or nothing.
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <thread>

#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

constexpr int writers = 16;

// Numbers of one bench and year must be 1, 2, 3, ... whatever their order.
void check_gapless(std::vector<std::string> numbers, const std::string& bench) {
    std::sort(numbers.begin(), numbers.end());
    for (std::size_t i = 0; i < numbers.size(); ++i) {
        std::string digits = std::to_string(i + 1);
        digits.insert(0, 5 - digits.size(), '0');
        REQUIRE(numbers[i] == bench + "-2026-" + digits);
    }
}

// Runs `work` in a child process, which has nothing of ours but what it opens itself; gives how it ended.
template <class Work>
int in_child(Work work) {
    const pid_t child = ::fork();
    if (child == 0) {
        work();
        ::_exit(0);
    }
    int status = 0;
    ::waitpid(child, &status, 0);
    return status;
}

}  // namespace

TEMPLATE_TEST_CASE("register: 16 writers at once lose nothing and number without gaps", "", OnSqlite,
                   OnPostgresql) {
    constexpr int each = 4;
    Laboratory<TestType> lab;
    std::vector<std::vector<std::string>> numbers(writers);
    std::vector<std::string> faults(writers);
    std::vector<std::thread> threads;
    for (int w = 0; w < writers; ++w)
        threads.emplace_back([&, w] {
            const auto fail = [&](const Fault& fault) { faults[static_cast<std::size_t>(w)] = fault.line(); };
            Result<Register> reg = Register::open(lab.location, "2026-03-05T09:00:00Z");
            if (!reg) return fail(reg.fault());
            Result<seal::SigningKey> key = seal::unlock_key(lab.keys, seal::Passphrase("a passphrase"));
            for (int i = 0; i < each; ++i) {
                // The whole way, every writer with gauges of its own and one that all of them meet.
                const std::string serial =
                    i == 0 ? "SHARED" : "W" + std::to_string(w) + "-" + std::to_string(i);
                Record record = record_of(serial);
                record.source_sha256 = sha256_hex(std::to_string(w) + "/" + std::to_string(i));
                const Result<Id> entered = reg->enter_record(technician, record, "B1");
                if (!entered) return fail(entered.fault());
                Draft draft;
                draft.as_found = *entered;
                const Result<Id> id = reg->draft(technician, draft);
                if (!id) return fail(id.fault());
                if (const Outcome done = reg->mark_checked(checker, *id); !done) return fail(done.fault());
                const Result<Issued> issued =
                    reg->issue(signatory, *id, w % 4 == 0 ? "B2" : "B1", *key, plain_documents);
                if (!issued) return fail(issued.fault());
                numbers[static_cast<std::size_t>(w)].push_back(issued->number);
            }
        });
    for (std::thread& thread : threads) thread.join();
    for (const std::string& fault : faults) CHECK(fault.empty());
    for (const std::string bench : {"B1", "B2"}) {
        std::vector<std::string> all;
        for (const std::vector<std::string>& some : numbers)
            for (const std::string& number : some)
                if (number.starts_with(bench)) all.push_back(number);
        CHECK(all.size() ==
              static_cast<std::size_t>(bench == "B2" ? writers / 4 * each : writers * 3 / 4 * each));
        check_gapless(all, bench);
    }
    CHECK(got(lab.reg.gauges_with_serial("SHARED")).size() == 1);
    CHECK(lab.inspected().certificates == writers * each);
}

TEMPLATE_TEST_CASE("register: killed at any stage of issuing, a certificate is issued whole or not at all",
                   "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const std::vector<std::string> stages{"numbered", "drawn", "stored", "written", "committed"};
    std::vector<Id> ids;
    for (std::size_t i = 0; i < stages.size() + 1; ++i)
        ids.push_back(lab.checked(lab.entered(record_of("EX-" + std::to_string(i)))));
    int issued_by_killed = 0;
    for (std::size_t i = 0; i < stages.size(); ++i) {
        INFO("killed when " << stages[i]);
        const int status = in_child([&] {
            IssueOptions options;
            options.on_stage = [&](std::string_view stage, std::size_t) {
                if (stage == stages[i]) ::kill(::getpid(), SIGKILL);
            };
            Result<Register> reg = Register::open(lab.location, "2026-03-05T09:00:00Z");
            Result<seal::SigningKey> key = seal::unlock_key(lab.keys, seal::Passphrase("a passphrase"));
            (void)reg->issue(signatory, ids[i], "B1", *key, plain_documents, options);
        });
        REQUIRE(WIFSIGNALED(status));
        const Certificate after = got(lab.reg.certificate(ids[i]));
        if (stages[i] == "committed") {
            CHECK(after.state == CertificateState::issued);
            ++issued_by_killed;
        } else {
            CHECK(after.state == CertificateState::checked);
            CHECK(after.number.empty());
        }
        lab.inspected();
    }
    CHECK(issued_by_killed == 1);
    std::vector<std::string> numbers;
    for (const Id id : ids) numbers.push_back(lab.issued(id).number);
    check_gapless(numbers, "B1");
    const InspectionReport before = lab.inspected();
    if (!TestType::postgresql) CHECK(before.stray_documents > 0);  // the killed ones' documents
    done(lab.reg.tidy(signatory));
    CHECK(lab.inspected().stray_documents == 0);
}

TEMPLATE_TEST_CASE(
    "register: killed while its documents are being stored, half a document is never taken for one", "",
    OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const Id id = lab.checked(lab.entered(record_of("EX-1")));
    // A large document, and a kill from outside that meets the child at whatever it does then.
    for (int attempt = 0; attempt < 6; ++attempt) {
        int told[2];
        REQUIRE(::pipe(told) == 0);
        const pid_t child = ::fork();
        if (child == 0) {
            Result<Register> reg = Register::open(lab.location, "2026-03-05T09:00:00Z");
            Result<seal::SigningKey> key = seal::unlock_key(lab.keys, seal::Passphrase("a passphrase"));
            (void)reg->issue(signatory, id, "B1", *key, [&](const IssueSheet& sheet) -> Result<Documents> {
                Result<Documents> out = plain_documents(sheet);
                out->others.push_back(
                    {"photo.bin", std::string(std::size_t{8} << 20, static_cast<char>('a' + attempt))});
                (void)!::write(told[1], "x", 1);
                return out;
            });
            ::_exit(0);
        }
        ::close(told[1]);
        char seen = 0;
        // One that was through before its kill leaves nothing to be issued by the next.
        const bool storing = ::read(told[0], &seen, 1) == 1;
        CHECK((storing || got(lab.reg.certificate(id)).state == CertificateState::issued));
        CHECK((storing || attempt > 0));
        // Later by steps: spins of this process, not of the clock.
        volatile unsigned spin = 0;
        for (int i = 0; i < attempt * 4000000; ++i) spin = spin + 1;
        ::kill(child, SIGKILL);
        int status = 0;
        ::waitpid(child, &status, 0);
        ::close(told[0]);
        const Certificate after = got(lab.reg.certificate(id));
        CHECK((after.state == CertificateState::checked || after.state == CertificateState::issued));
        lab.inspected();
    }
    CHECK(lab.issued(id).number == "B1-2026-00001");
    done(lab.reg.tidy(signatory));
    CHECK(lab.inspected().stray_documents == 0);
}
