// Issuing any number of certificates: in groups, each whole or not at all, stopped between groups by Ctrl-C
// and taken up again by the same command.
#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <cstdio>
#include <optional>
#include <set>
#include <thread>

#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/certificates.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/keys.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/register/signing_certificate.hpp"
#include "bench/program/results/check_runs.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/joined.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct IssueOptions {
    Session session;
    std::vector<std::int64_t> drafts;
    bool all = false;
    std::string reason;  // why reservations are accepted
    std::string bench = default_bench;
    Layout layout;
    std::filesystem::path keys;
    PassphraseSource passphrase;
    std::filesystem::path out;  // empty: only into the register
    int threads = 0;            // 0: as many as the machine has
    std::string check_gauge;    // serial number; empty: none is asked
};

using report::Id;

constexpr std::size_t group_size = 16;

volatile std::sig_atomic_t stop_asked = 0;

void ask_to_stop(int) {
    stop_asked = 1;
}

// Ctrl-C ends the work after the group in hand, for as long as this lives.
class StopBetweenGroups {
public:
    StopBetweenGroups() {
        stop_asked = 0;
        for (std::size_t i = 0; i < 2; ++i) before_[i] = std::signal(signals_[i], ask_to_stop);
    }
    ~StopBetweenGroups() {
        for (std::size_t i = 0; i < 2; ++i) std::signal(signals_[i], before_[i]);
    }
    StopBetweenGroups(const StopBetweenGroups&) = delete;
    StopBetweenGroups& operator=(const StopBetweenGroups&) = delete;
    bool asked() const { return stop_asked != 0; }

private:
    static constexpr int signals_[2] = {SIGINT, SIGTERM};
    void (*before_[2])(int) = {nullptr, nullptr};
};

Result<std::vector<Id>> wanted(report::Register& reg, const IssueOptions& options) {
    if (!options.all) return options.drafts;
    const auto work = reg.open_work();
    if (!work) return work.fault();
    std::vector<Id> out;
    for (const auto& row : work->rows)
        if (std::get<std::string>(row[1]) == "checked") out.push_back(std::get<std::int64_t>(row[0]));
    return out;
}

// The maker needs to know the files of certificates that drafts refer to.
Outcome learn_earlier(report::Register& reg, const std::vector<Id>& drafts, CertificateMaker& maker) {
    for (const Id id : drafts) {
        const auto draft = reg.certificate(id);
        if (!draft) return draft.fault();
        if (draft->refers_to.empty()) continue;
        const auto earlier = reg.certificate(draft->refers_to);
        if (!earlier) return earlier.fault();
        maker.know_earlier(earlier->number,
                           earlier->xml_sha256.empty() ? earlier->pdf_sha256 : earlier->xml_sha256);
    }
    return Done{};
}

// What would stop them all after the passphrase was typed is told before. Where one can be issued, the others
// are told when it comes to them.
Outcome can_be_issued(report::Register& reg, const std::vector<Id>& drafts, const CertificateMaker& maker) {
    std::optional<Fault> first;
    for (const Id id : drafts) {
        const auto draft = reg.certificate(id);
        if (!draft) return draft.fault();
        if (draft->state != report::CertificateState::checked) return Done{};
        const auto record = reg.record(draft->as_left != 0 ? draft->as_left : draft->as_found);
        if (!record) return record.fault();
        const Outcome can = maker.can_issue(*record);
        // That a record is not invented is told after it was held against its fingerprint.
        if (can || can.fault().code == FaultCode::not_permitted) return Done{};
        if (!first) first = can.fault();
    }
    if (first) return *first;
    return Done{};
}

// Something can be written into the folder; it is left as it was.
Outcome takes_files(const std::filesystem::path& folder) {
    std::error_code ignored;
    std::vector<std::filesystem::path> missing;  // the innermost first; made anew with what goes into them
    for (auto one = folder; !one.empty() && !std::filesystem::exists(one, ignored); one = one.parent_path())
        missing.push_back(one);
    if (auto made = make_folder(folder); !made) return made;
    const std::filesystem::path trial = folder / (".tipwright-" + std::to_string(::getpid()));
    Outcome written = write_file(trial, "");
    std::filesystem::remove(trial, ignored);
    for (const auto& one : missing) std::filesystem::remove(one, ignored);
    return written;
}

struct UnlockedSeal {
    seal::SigningKey key;
    std::optional<seal::X509Key> signer;
};

Result<UnlockedSeal> unlock_seal(const std::filesystem::path& keys, const seal::Passphrase& passphrase,
                                 const report::Actor& actor, CertificateMaker& maker) {
    auto key = seal::unlock_key(keys_folder(keys).string(), passphrase);
    if (!key) return key.fault();
    auto signer = open_signing_certificate(keys_folder(keys), passphrase);
    if (!signer) return signer.fault();
    if (*signer) {
        if (auto valid = (*signer)->valid_on(actor.now.substr(0, 10)); !valid) return valid.fault();
        maker.sign_with(**signer, actor.now);
    }
    return UnlockedSeal{std::move(*key), std::move(*signer)};
}

report::IssueOptions how_to_issue(const UnlockedSeal& seal, const std::filesystem::path& keys,
                                  const std::string& reason) {
    report::IssueOptions how;
    how.signer = seal.signer ? &*seal.signer : nullptr;
    how.issued_numbers = issued_numbers_file(keys_folder(keys)).string();
    how.group = static_cast<int>(group_size);
    how.reason = reason;
    return how;
}

void tell_progress(std::size_t done, std::size_t all, bool to_terminal) {
    if (to_terminal)
        print_to(stderr, "\r%zu of %zu issued%s", done, all, Drawn{done == all ? "\n" : ""});
    else if (all > group_size)
        print_to(stderr, "%zu of %zu issued\n", done, all);
}

ExitCode issue_certificates(const CommonOptions& common, const IssueOptions& options) {
    auto maker = CertificateMaker::load(common, options.layout);
    if (!maker) return refuse(common, maker.fault());
    if (const auto named = actor_of(options.session); !named) return refuse(common, named.fault());
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto actor = logged_in(*reg, options.session);
    if (!actor) return refuse(common, actor.fault());
    const auto drafts = wanted(*reg, options);
    if (!drafts) return refuse(common, drafts.fault());
    if (drafts->empty())
        return options.all ? say(common, "No checked draft is waiting.", {{"issued", std::int64_t{0}}})
                           : refuse(common, {FaultCode::usage, "no draft is named", "certificate issue",
                                             "give the numbers of drafts, or --all"});
    if (const Outcome known = learn_earlier(*reg, *drafts, *maker); !known)
        return refuse(common, known.fault());
    if (!options.check_gauge.empty())
        if (const Outcome good = in_control(*reg, options.check_gauge, actor->now); !good)
            return refuse(common, good.fault());
    if (const Outcome can = can_be_issued(*reg, *drafts, *maker); !can) return refuse(common, can.fault());
    if (!options.out.empty())
        if (const Outcome takes = takes_files(options.out); !takes) return refuse(common, takes.fault());
    if (auto there = keys_are_there(options.keys); !there) return refuse(common, there.fault());
    const auto passphrase = read_passphrase(options.passphrase, "Passphrase of the seal");
    if (!passphrase) return refuse(common, passphrase.fault());
    const auto seal = unlock_seal(options.keys, *passphrase, *actor, *maker);
    if (!seal) return refuse(common, seal.fault());

    report::IssueOptions how = how_to_issue(*seal, options.keys, options.reason);
    how.warn = [](const std::string& text) { print_to(stderr, "tipwright: warning: %s\n", text.c_str()); };
    how.threads = options.threads > 0 ? options.threads
                                      : static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
    const auto draw = [&](const report::IssueSheet& sheet) { return maker->documents(sheet, seal->key); };
    const bool to_terminal = ::isatty(STDERR_FILENO) == 1 && drafts->size() > 1;
    report::Table table{{"draft", "certificate", "was_issued_before"}, {}, false};
    std::optional<Fault> refused;
    std::optional<Fault> full;  // the disk, or the folder of --out
    std::optional<Fault> unnoted;
    how.unnoted = [&](const Fault& fault) { unnoted = fault; };
    std::set<std::string> told;
    const StopBetweenGroups stop;
    std::size_t done = 0;
    while (done < drafts->size() && !stop.asked()) {
        const std::size_t end = std::min(drafts->size(), done + group_size);
        const std::vector<Id> group(drafts->begin() + static_cast<std::ptrdiff_t>(done),
                                    drafts->begin() + static_cast<std::ptrdiff_t>(end));
        bool lost = false;
        for (const auto& answer : reg->issue_many(*actor, group, options.bench, seal->key, draw, how)) {
            if (!answer && answer.fault().code == FaultCode::disk_full) {
                if (!full) full = answer.fault();
                continue;
            }
            if (!answer) {
                const bool no_server = answer.fault().code == FaultCode::database_unreachable;
                // What all wait for, a server or a register put right, is told once.
                if (!common.json && told.insert(answer.fault().line()).second) fail(common, answer.fault());
                lost = lost || no_server;
                if (!refused) refused = answer.fault();
                continue;
            }
            table.rows.push_back({answer->id, answer->number, std::string(answer->already ? "yes" : "no")});
            if (options.out.empty() || full) continue;
            if (const Outcome written = write_certificate(*reg, answer->number, options.out); !written) {
                full = written.fault();
                add_part(full->remedy,
                         "the register holds them: 'tipwright certificate export' writes them again");
            }
        }
        if (full) break;  // what follows would fail the same way
        done = end;
        tell_progress(done, drafts->size(), to_terminal);
        if (lost) break;     // every further group would wait for the server in vain
        if (unnoted) break;  // and begin on a note that does not say what was given
    }
    if (!table.rows.empty() && !common.json) show(common, table);
    if (full) {
        full->what = std::to_string(table.rows.size()) + " of " + std::to_string(drafts->size()) +
                     " are issued" +
                     (table.rows.size() < drafts->size() ? ", the rest waits: " : ", not all are written: ") +
                     full->what;
        if (full->remedy.empty()) full->remedy = "free space, then give the same command again to continue";
        return refuse(common, *full);
    }
    if (unnoted) {
        unnoted->what =
            std::to_string(table.rows.size()) + " of " + std::to_string(drafts->size()) +
            " are issued, but the list of issued numbers could not be completed: " + unnoted->what;
        add_part(unnoted->remedy, "then seal the log, or issue the rest: numbers go on after those");
        return fail(common, *unnoted, ExitCode::refused);
    }
    if (done < drafts->size() && !refused)
        return refuse(common, {FaultCode::interrupted,
                               std::to_string(table.rows.size()) + " of " + std::to_string(drafts->size()) +
                                   " are issued, the rest waits",
                               "certificate issue", "give the same command again to issue the rest"});
    if (refused) return common.json ? refuse(common, *refused) : desk_exit_code(*refused);
    return common.json ? show(common, table) : ExitCode::done;
}

}  // namespace

Result<report::Issued> issue_one(const CommonOptions& common, report::Register& reg,
                                 const report::Actor& actor, Id draft, const seal::Passphrase& passphrase,
                                 const Sealing& sealing) {
    auto maker = CertificateMaker::load(common, sealing.layout);
    if (!maker) return maker.fault();
    if (const Outcome known = learn_earlier(reg, {draft}, *maker); !known) return known.fault();
    if (!sealing.check_gauge.empty())
        if (const Outcome good = in_control(reg, sealing.check_gauge, actor.now); !good) return good.fault();
    const auto seal = unlock_seal(sealing.keys, passphrase, actor, *maker);
    if (!seal) return seal.fault();
    const auto draw = [&](const report::IssueSheet& sheet) { return maker->documents(sheet, seal->key); };
    report::IssueOptions how = how_to_issue(*seal, sealing.keys, sealing.reason);
    how.warn = sealing.warn;
    how.unnoted = [&](const Fault& fault) {
        if (sealing.warn)
            sealing.warn("issued, but the list of issued numbers could not be completed: " + fault.line());
    };
    return reg.issue(actor, draft, sealing.bench, seal->key, draw, how);
}

void add_issue(CommandLine& line, Subcommand group) {
    auto issue =
        add_verb(line, group, "issue",
                 "Number, seal and store checked certificates; after Ctrl-C the same command does the "
                 "rest",
                 issue_certificates);
    add_session(issue.command, issue->session);
    auto drafts = issue.command.add_option("drafts", issue->drafts, "Numbers of checked drafts");
    auto all = issue.command.add_flag("--all", issue->all, "All checked drafts").excludes(drafts);
    add_check_gauge(issue.command, issue->check_gauge);
    issue.command
        .add_option("--reason", issue->reason,
                    "Why results with reservations are accepted; stated on page 1 and in every file")
        .excludes(all)
        .type_name("TEXT");
    add_bench_code(issue.command, issue->bench);
    issue.command.add_option("--out", issue->out, "Folder to write them to as well").type_name("DIR");
    issue.command
        .add_option("--threads", issue->threads,
                    "Certificates drawn at the same time (default: one per processor)")
        .in_range(1, 64);
    add_layout(issue.command, issue->layout);
    add_keys_folder(issue.command, issue->keys);
    add_passphrase(issue.command, issue->passphrase);
}

}  // namespace tipwright::program
