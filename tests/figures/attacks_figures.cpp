// Attacks in numbers. Arguments: the share of each campaign in per cent (default 100; ctest runs 5), and that
// of the killed issuers (default: the same).
//   mutated journals: bits, bytes, lines changed, moved, repeated, left out; a journal that is read must give
//   the very
//     record of the one that was not touched, or say that it is torn or incomplete. Half of them with every
//     checksum made good again: those must only be read to an end.
//   mutated PDFs: of a sealed certificate; the seal must tell each.
//   forged seals: every character of seal texts and codes changed, keys past their end, keys nobody vouched
//   for. hostile texts: any bytes and code points, as names; nothing hidden is left after visible(). deep
//   texts: TOML made to nest; the parser must come back. killed issuers: certificates are being issued when
//   the program is killed (SIGKILL); the register is whole, its numbers
//     are without gaps, and the same command goes on.
// The floors are the counts of the first campaign of this kind.
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include "bench/descriptions/descriptions.hpp"
#include "bench/journal/line.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "report/files/files.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/register/numbers_beside_keys.hpp"
#include "report/seal/seal.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
namespace fs = std::filesystem;

namespace {

constexpr int journals_floor = 1016;
constexpr int pdfs_floor = 1085;
constexpr int seals_floor = 44;
constexpr int issuers_floor = 448;
constexpr int texts_count = 20000;
constexpr int deep_count = 400;
constexpr int drafts_in_register = 64;

std::mt19937_64 random_bits(20261120);

std::size_t below(std::size_t count) {
    return count == 0 ? 0 : static_cast<std::size_t>(random_bits() % count);
}

std::string content_of(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::stringstream out;
    out << in.rdbuf();
    return out.str();
}

void write(const fs::path& file, const std::string& bytes) {
    std::ofstream(file, std::ios::binary) << bytes;
}

pid_t start(const std::vector<std::string>& words) {
    const pid_t pid = ::fork();
    if (pid != 0) return pid;
    const int nowhere = ::open("/dev/null", O_RDWR);
    for (const int descriptor : {0, 1, 2}) ::dup2(nowhere, descriptor);
    std::vector<char*> arguments;
    for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    ::execvp(arguments[0], arguments.data());
    ::_exit(127);
}

int run(const std::vector<std::string>& words) {
    const pid_t pid = start(words);
    int status = 0;
    ::waitpid(pid, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

void need(const std::vector<std::string>& words) {
    if (const int code = run(words); code != 0) {
        std::fprintf(stderr, "%s %s: exit code %d\n", words[0].c_str(), words[1].c_str(), code);
        std::exit(1);
    }
}

std::string mutated(std::string bytes) {
    const int changes = 1 + static_cast<int>(below(3));
    for (int i = 0; i < changes; ++i) {
        const std::size_t at = below(bytes.size());
        const std::size_t length = std::min(bytes.size() - at, 1 + below(64));
        switch (below(5)) {
            case 0:
                bytes[at] = static_cast<char>(bytes[at] ^ (1 << below(8)));
                break;
            case 1:
                bytes.erase(at, length);
                break;
            case 2:
                bytes.insert(at, bytes.substr(below(bytes.size() - length + 1), length));
                break;
            case 3:
                for (std::size_t k = 0; k < length; ++k) bytes[at + k] = static_cast<char>(random_bits());
                break;
            default:
                if (below(20) == 0)
                    bytes.resize(at);
                else
                    bytes.insert(at, 1, static_cast<char>(random_bits()));
        }
    }
    return bytes;
}

std::string with_lines_moved(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    const std::size_t a = 1 + below(lines.size() - 1);
    const std::size_t b = 1 + below(lines.size() - 1);
    switch (below(3)) {
        case 0:
            std::swap(lines[a], lines[b]);
            break;
        case 1:
            lines.erase(lines.begin() + static_cast<std::ptrdiff_t>(a));
            break;
        default:
            lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(a), std::string(lines[b]));
    }
    std::string out;
    for (const std::string& line : lines) out += line + "\n";
    return out;
}

// What an attacker does who knows the format: every line's checksum fits again.
std::string with_good_checksums(const std::string& text) {
    std::string out;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) {
        const std::size_t mark = line.rfind(" *");
        if (mark != std::string::npos) {
            char sum[16];
            std::snprintf(sum, sizeof sum, " *%08x",
                          bench::journal_checksum(std::string_view(line).substr(0, mark)));
            line = line.substr(0, mark) + sum;
        }
        out += line + "\n";
    }
    return out;
}

bool journals(const fs::path& good, int count) {
    const std::string text = content_of(good);
    const auto record = program::record_of_journal(good, {});
    if (!record) return false;
    const fs::path file = test::scratch_dir() / "mutant.twj";
    int deceived = 0;
    for (int i = 0; i < count; ++i) {
        std::string bad = below(3) == 0 ? with_lines_moved(text) : mutated(text);
        const bool made_good = i % 2 == 1;
        if (made_good) bad = with_good_checksums(bad);
        if (bad == text) continue;
        write(file, bad);
        auto read = program::record_of_journal(file, {});
        if (!read || made_good) continue;
        if (read->completeness != report::Completeness::complete || read->deviations != record->deviations)
            continue;
        read->source_name = record->source_name;
        read->source_sha256 = record->source_sha256;
        deceived += report::record_to_json(*read) == report::record_to_json(*record) ? 0 : 1;
    }
    bool ok = test::figure("attacks_mutated_journals", count, "journals", ">=", count);
    ok = test::figure("attacks_mutated_journals_believed", deceived, "journals", "<=", 0) && ok;
    return ok;
}

constexpr seal::PassphraseCost cheap{1, 8192};

bool seals(const std::string& pdf, int pdf_count) {
    const std::string folder = (test::scratch_dir() / "keys").string();
    const seal::Passphrase phrase("a long passphrase");
    if (!seal::make_keys(folder, phrase, "2026-01-01", cheap)) return false;
    const auto old_key = seal::unlock_key(folder, phrase);
    if (!old_key || !seal::rotate_keys(folder, phrase, phrase, "2026-06-01", cheap)) return false;
    const auto key = seal::unlock_key(folder, phrase);
    const auto known = seal::PublicKeys::read(folder + "/" + std::string(seal::public_keys_name));
    if (!key || !known) return false;

    const std::string sealed = seal::seal_file(seal::FileKind::pdf, pdf, "B1-2026-00001", "2026-07-01", *key);
    if (!seal::check_file(sealed, *known, "pdf")) return false;
    int pdfs_accepted = 0;
    for (int i = 0; i < pdf_count; ++i) {
        const std::string bad = i % 10 == 0 ? sealed + sealed.substr(below(sealed.size())) : mutated(sealed);
        if (bad == sealed) continue;
        if (seal::check_file(bad, *known, "pdf")) ++pdfs_accepted;
        static_cast<void>(report::read_attached_record(bad, "pdf"));
    }
    bool ok = test::figure("attacks_mutated_pdfs", pdf_count, "PDFs", ">=", pdf_count);
    ok = test::figure("attacks_mutated_pdfs_accepted", pdfs_accepted, "PDFs", "<=", 0) && ok;

    int forged = 0;
    int accepted = 0;
    const std::string fingerprint = seal::fingerprint_of("record");
    const seal::Seal good = seal::seal_record("B1-2026-00001", fingerprint, "2026-07-01", *key);
    const auto each_changed = [&](const std::string& text, auto read) {
        for (std::size_t i = 0; i < text.size(); ++i) {
            std::string bad = text;
            bad[i] = bad[i] == '0' ? '1' : '0';
            if (bad == text) continue;
            ++forged;
            const Result<seal::Seal> seal = read(bad);
            if (seal && seal::check_seal(*seal, *known)) ++accepted;
        }
    };
    each_changed(seal::seal_text(good),
                 [](const std::string& text) { return seal::seal_from_text(text, "seal"); });
    each_changed(seal::qr_text(good), [](const std::string& text) { return seal::seal_from_qr_text(text); });
    for (const char* day : {"2025-12-31", "2026-06-02", "2027-01-01", "2099-12-31"}) {
        forged += 2;
        if (seal::check_seal(seal::seal_record("B1-2026-00002", fingerprint, day, *old_key), *known))
            ++accepted;
        if (seal::check_file(seal::seal_file(seal::FileKind::pdf, pdf, "B1-2026-00002", day, *old_key),
                             *known, "pdf"))
            ++accepted;
    }
    std::array<unsigned char, 32> seed{};
    for (int i = 0; i < 20; ++i) {
        for (auto& byte : seed) byte = static_cast<unsigned char>(random_bits());
        const seal::SigningKey stranger = seal::SigningKey::from_seed(seed);
        seal::Seal made_up = seal::seal_record("B1-2026-00003", fingerprint, "2026-07-01", stranger);
        forged += 2;
        if (seal::check_seal(made_up, *known)) ++accepted;
        made_up.key_id = key->public_key().id;
        if (seal::check_seal(made_up, *known)) ++accepted;
    }
    ok = test::figure("attacks_forged_seals", forged, "seals", ">=", seals_floor) && ok;
    return test::figure("attacks_forged_seals_accepted", accepted, "seals", "<=", 0) && ok;
}

bool texts(int count) {
    int hidden = 0;
    for (int i = 0; i < count; ++i) {
        std::string text;
        for (std::size_t k = 1 + below(20); k > 0; --k) {
            const std::size_t first = below(3);
            if (first == 0)
                text.push_back(static_cast<char>(random_bits()));
            else if (first == 1)
                text += "\xe2\x80" + std::string(1, static_cast<char>(0x80 + below(64)));
            else
                text += {static_cast<char>(0xc2), static_cast<char>(0x80 + below(64))};
        }
        const std::string shown = visible(text);
        // Read as bytes, by another rule than the one that escapes: no C0, no C1, no U+200B..200F,
        // U+2028..202E, U+2060...
        for (std::size_t k = 0; k < shown.size(); ++k) {
            const auto byte = [&](std::size_t at) {
                return at < shown.size() ? static_cast<unsigned char>(shown[at]) : 0u;
            };
            const unsigned c = byte(k);
            const bool format =
                c == 0xe2 && ((byte(k + 1) == 0x80 && (byte(k + 2) >= 0x8b && byte(k + 2) <= 0x8f)) ||
                              (byte(k + 1) == 0x80 && (byte(k + 2) >= 0xa8 && byte(k + 2) <= 0xae)) ||
                              (byte(k + 1) == 0x81 && (byte(k + 2) >= 0xa0 && byte(k + 2) <= 0xaf)));
            if (c < 0x20 || c == 0x7f || (c == 0xc2 && byte(k + 1) < 0xa0) || format) {
                ++hidden;
                break;
            }
        }
    }
    bool ok = test::figure("attacks_hostile_texts", count, "texts", ">=", count);
    ok = test::figure("attacks_hostile_texts_shown_raw", hidden, "texts", "<=", 0) && ok;
    return ok;
}

bool deep_texts(int count) {
    const std::vector<std::string> pieces{"a.",  "[",    "{a=", "\"x\\\\\".", "'\\'.", "\"\"\"",
                                          "'''", "=",    "\n",  "#\"",        "]",     "}",
                                          ",",   "\\\"", "[[",  "a=1\n"};
    int faults = 0;
    for (int i = 0; i < count; ++i) {
        std::string text;
        for (std::size_t k = below(6); k > 0; --k) text += pieces[below(pieces.size())];
        const std::string& piece = pieces[below(4)];
        while (text.size() < 100000) text += piece;
        text += "a = 1\n";
        faults += bench::parse_plan({"text.toml", text}) ? 0 : 1;
    }
    bool ok = test::figure("attacks_deep_texts", count, "texts", ">=", count);
    ok = test::figure("attacks_deep_texts_refused", faults, "texts", ">=", count) && ok;
    return ok;
}

bool issuers(const std::string& program, const fs::path& run_folder, int kills) {
    const fs::path top = test::scratch_dir() / "issuers";
    fs::create_directories(top);
    ::setenv("HOME", top.c_str(), 1);
    ::setenv("TIPWRIGHT_PERSON", "A. Signatory", 1);
    ::setenv("TIPWRIGHT_TRIAL_NOW", "2026-11-23T08:00:00Z", 1);
    const std::string phrase = (top / "phrase").string();
    if (!write_file(phrase, "a long passphrase\n", 0600)) return false;
    int met = 0;
    int harmed = 0;
    for (int made = 0; met < kills; ++made) {
        // A register takes several kills; where it takes none, nothing is being issued.
        if (made > met + 20) {
            std::fprintf(stderr, "attacks: issuers end before they are killed\n");
            break;
        }
        const fs::path folder = top / std::to_string(made);
        fs::create_directories(folder);
        ::setenv("TIPWRIGHT_REGISTER", (folder / "register").c_str(), 1);
        // Keys of its own: by the same ones, in this campaign's one moment, each register after the first
        // would pass for an older backup of it.
        const std::string keys = (folder / "keys").string();
        ::setenv("TIPWRIGHT_KEYS", keys.c_str(), 1);
        if (!seal::make_keys(keys, seal::Passphrase("a long passphrase"), "2026-01-01", cheap)) return false;
        const auto key = seal::unlock_key(keys, seal::Passphrase("a long passphrase"));
        if (!key || !report::begin_numbers(keys + "/issued-numbers.txt", *key, "2026-01-01")) return false;
        need({program, "register", "create"});
        need({program, "register", "person", "add", "C. Checker", "--may-check", "true"});
        need({"python3", test::source_dir() + "/tests/support/renamed_runs.py", run_folder.string(),
              "INV-200-0002", "A", std::to_string(drafts_in_register), (folder / "runs").string()});
        std::vector<std::string> draft{program, "certificate", "draft"};
        std::vector<std::string> check{program, "certificate", "check", "--person", "C. Checker"};
        for (int i = 1; i <= drafts_in_register; ++i) {
            draft.push_back((folder / "runs" / ("A-" + std::to_string(i)) / "record.json").string());
            check.push_back(std::to_string(i));
        }
        need(draft);
        need(check);
        const std::vector<std::string> issue{program, "certificate",       "issue",
                                             "--all", "--passphrase-file", phrase};
        for (int tries = 0; tries < 24 && met < kills; ++tries) {
            const pid_t pid = start(issue);
            std::this_thread::sleep_for(std::chrono::milliseconds(20 + below(tries < 20 ? 300 : 900)));
            const bool running = ::waitpid(pid, nullptr, WNOHANG) == 0;
            if (!running) break;
            ::kill(pid, SIGKILL);
            ::waitpid(pid, nullptr, 0);
            ++met;
            if (run({program, "register", "check"}) != 0) ++harmed;
        }
        // The same command goes on to the end, and `register check` finds numbers without gaps.
        if (run(issue) != 0 || run({program, "register", "check"}) != 0) ++harmed;
        fs::remove_all(folder);
    }
    bool ok = test::figure("attacks_killed_issuers", met, "kills", ">=", kills);
    return test::figure("attacks_killed_issuers_harm", harmed, "registers", "<=", 0) && ok;
}

}  // namespace

int main(int argc, char** argv) {
    const int percent = argc > 1 ? std::atoi(argv[1]) : 100;
    const int percent_of_kills = argc > 2 ? std::atoi(argv[2]) : percent;
    const auto share = [&](int count) { return std::max(1, count * percent / 100); };
    const std::string program = test::binary_dir() + "/tipwright";
    const fs::path run_folder = test::scratch_dir() / "run";
    need({program, "calibrate", "--bench", "virtual-bench", "--gauge", "demo-bucket-200-twin", "--plan",
          "three-point-check", "--started-at", "2026-11-20T08:00:00Z", "--out", run_folder.string()});
    bool ok = journals(run_folder / "journal.twj", share(journals_floor));
    ok = seals(content_of(run_folder / "certificate.pdf"), share(pdfs_floor)) && ok;
    ok = texts(share(texts_count)) && ok;
    ok = deep_texts(share(deep_count)) && ok;
    ok = issuers(program, run_folder, std::max(1, issuers_floor * percent_of_kills / 100)) && ok;
    return ok ? 0 : 1;
}
