// Every byte of a sample of what is given out, changed one at a time, by one flipped bit and by a whole byte:
// the certificate (PDF), the DCC (XML), the record with its seal, and the station pack as a zip with all of
// that in it. A change that is not told would count against the figure. Documents are drawn as the program
// draws them.
#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <thread>

#include "bench/program/register/maker.hpp"
#include "report/files/fingerprint.hpp"
#include "report/pack/pack.hpp"
#include "report/pack/zip.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/report/scratch_folder.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

template <class T>
T need(Result<T> result) {
    if (!result) {
        std::fprintf(stderr, "seal_figures: %s\n", result.fault().line().c_str());
        std::exit(1);
    }
    return std::move(result.value());
}

using Holds = std::function<bool(const std::string&)>;

struct Count {
    long changes = 0;
    long told = 0;
};

// The lowest bit of every byte flipped; in a small file all bits as well.
Count change_every_byte(const std::string& bytes, const Holds& holds) {
    constexpr std::size_t small = 100000;
    constexpr std::size_t stretch = 256;
    const unsigned masks[] = {0x01, 0xFF};
    const std::size_t kinds = bytes.size() < small ? 2 : 1;
    std::atomic<std::size_t> next{0};
    std::atomic<long> told{0};
    const auto work = [&] {
        std::string changed = bytes;
        for (std::size_t from = next.fetch_add(stretch); from < bytes.size(); from = next.fetch_add(stretch))
            for (std::size_t i = from; i < std::min(bytes.size(), from + stretch); ++i) {
                for (std::size_t kind = 0; kind < kinds; ++kind) {
                    changed[i] = static_cast<char>(static_cast<unsigned char>(bytes[i]) ^ masks[kind]);
                    if (!holds(changed)) ++told;
                }
                changed[i] = bytes[i];
            }
    };
    std::thread other(work);
    work();
    other.join();
    return {static_cast<long>(kinds * bytes.size()), told};
}

void prove(const char* name, const std::string& bytes, const Holds& holds) {
    if (!holds(bytes)) {
        std::fprintf(stderr, "seal_figures: %s does not hold unchanged\n", name);
        std::exit(1);
    }
    const auto begin = std::chrono::steady_clock::now();
    const Count count = change_every_byte(bytes, holds);
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    std::printf("figure seal_%s_changes_not_told %ld of_%ld limit <= 0 %s\n", name,
                count.changes - count.told, count.changes, count.told == count.changes ? "ok" : "short");
    std::printf("reference seal_%s_bytes %zu B, %.0f s\n", name, bytes.size(), seconds);
    std::fflush(stdout);
}

report::Record small_record() {
    test::SampleOptions wish;
    wish.intensities_mm_h = {20, 200};
    report::Record record = test::sample_record(wish);
    record.number = "DRAFT";
    record.authorised_by.clear();
    record.issued_on.clear();
    record.state = report::State::as_found;
    record.source_sha256 = report::sha256_hex("a run");
    return record;
}

}  // namespace

int main() {
    const test::ScratchFolder folder;
    const std::string keys_folder = folder / "keys";
    const seal::PassphraseCost cheap{1, 8192};
    need(seal::make_keys(keys_folder, seal::Passphrase("a passphrase"), "2026-01-01", cheap));
    const auto key = need(seal::unlock_key(keys_folder, seal::Passphrase("a passphrase")));
    const auto keys = need(seal::PublicKeys::read(keys_folder + "/public-keys.txt"));

    const report::Actor signatory{"A. Signatory", "2026-03-05T09:00:00Z"};
    const report::Actor checker{"C. Checker", "2026-03-05T09:00:00Z"};
    auto reg = need(report::Register::open(folder / "register", "2026-01-01T00:00:00Z", true));
    need(reg.put_person(signatory, {0, "A. Signatory", true, true, true, true}));
    need(reg.put_person(signatory, {0, "C. Checker", true, true, false, true}));
    program::CommonOptions common;
    common.templates = tipwright::test::source_dir() + "/templates";
    const auto maker = need(program::CertificateMaker::load(common, {}));
    report::Draft draft;
    draft.as_found = need(reg.enter_record(signatory, small_record(), "B1"));
    const auto id = need(reg.draft(signatory, draft));
    need(reg.mark_checked(checker, id));
    const auto issued = need(reg.issue(signatory, id, "B1", key, [&](const report::IssueSheet& sheet) {
        return maker.documents(sheet, key);
    }));
    const auto certificate = need(reg.certificate(issued.number));

    const auto sealed = [&](const std::string& bytes) {
        return seal::check_file(bytes, keys, "sample").ok();
    };
    prove("certificate_pdf", need(reg.document(certificate.pdf_sha256)), sealed);
    prove("dcc_xml", need(reg.document(certificate.xml_sha256)), sealed);
    prove("record_json", need(reg.document(certificate.record_sha256)),
          [&](const std::string& bytes) { return seal::check_record(*certificate.seal, keys, bytes).ok(); });
    prove("seal_txt", seal::seal_text(*certificate.seal), [&](const std::string& bytes) {
        const auto seal = seal::seal_from_text(bytes, "seal.txt");
        return seal && seal::check_seal(*seal, keys).ok();
    });
    prove("code", seal::qr_text(*certificate.seal), [&](const std::string& bytes) {
        const auto seal = seal::seal_from_qr_text(bytes);
        return seal && seal::check_seal(*seal, keys).ok();
    });
    prove("pack_zip", report::pack::zip(need(report::pack::make(reg, {issued.number}))),
          [&](const std::string& bytes) {
              const auto files = report::pack::unzip(bytes, "pack.zip");
              if (!files) return false;
              const auto findings = report::pack::check(*files, keys);
              return std::all_of(findings.begin(), findings.end(),
                                 [](const report::pack::Finding& finding) { return finding.ok; });
          });
    return 0;
}
