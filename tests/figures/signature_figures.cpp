// Bytes of a signed certificate (PDF) changed one at a time, at places spread over the file: told by pdfsig
// (poppler) and by openssl, which are by other hands and look only at the X.509 signature, and by the
// program's own check of seal and signature. Within the digits of the signature itself PDF readers need not
// tell every change (what RFC 5652 leaves unsigned); the program does. Argument: how many places (default
// 2000).
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "report/certificate/certificate.hpp"
#include "report/dcc/dcc.hpp"
#include "report/record/record_json.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/pdf_signature.hpp"
#include "report/seal/xml_signature.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

constexpr const char* day = "2026-03-05";

template <class T>
T need(Result<T> result) {
    if (!result) {
        std::fprintf(stderr, "signature_figures: %s\n", result.fault().line().c_str());
        std::exit(1);
    }
    return std::move(result.value());
}

void write(const std::filesystem::path& file, std::string_view bytes) {
    std::ofstream(file, std::ios::binary) << bytes;
}

std::string output_of(const std::string& command) {
    std::string out;
    FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
    if (pipe == nullptr) std::exit(1);
    char piece[4096];
    for (std::size_t n = 0; (n = std::fread(piece, 1, sizeof piece, pipe)) > 0;) out.append(piece, n);
    out += "\nexit " + std::to_string(::pclose(pipe));
    return out;
}

struct Judge {
    std::filesystem::path folder = test::scratch_dir();
    const seal::PublicKeys& keys;

    bool pdfsig(const std::string& bytes) const {
        write(folder / "changed.pdf", bytes);
        const std::string said = output_of("pdfsig -nocert '" + (folder / "changed.pdf").string() + "'");
        return said.find("Signature is Valid") != std::string::npos &&
               said.find("Total document signed") != std::string::npos;
    }
    // As a reader does: takes the signed stretches from /ByteRange.
    bool openssl(const std::string& bytes) const {
        const std::size_t at = bytes.find("/ByteRange [ ");
        if (at == std::string::npos) return false;
        std::istringstream numbers(bytes.substr(at + 13, 60));
        std::size_t from = 0, first = 0, second = 0, length = 0;
        numbers >> from >> first >> second >> length;
        if (!numbers || from != 0 || first >= second || second > bytes.size() ||
            length != bytes.size() - second)
            return false;
        const auto der = seal::from_hex(std::string_view(bytes).substr(first + 1, second - first - 2));
        if (!der || bytes[first] != '<' || bytes[second - 1] != '>') return false;
        write(folder / "cms.der", *der);
        write(folder / "signed", bytes.substr(0, first) + bytes.substr(second));
        return output_of(
                   "cd '" + folder.string() +
                   "' && openssl cms -verify -cades -binary -inform DER -in cms.der -content signed -CAfile "
                   "signer.pem -purpose any -attime 1772668800 -out /dev/null")
                   .find("exit 0") != std::string::npos;
    }
    bool program(const std::string& bytes) const { return seal::check_file(bytes, keys, "sample").ok(); }
};

struct Count {
    int places = 0, pdfsig = 0, openssl = 0, both = 0, program = 0;  // not told
};

}  // namespace

int main(int argc, char** argv) {
    const int places = argc > 1 ? std::atoi(argv[1]) : 2000;
    const std::string keys_folder = (test::scratch_dir() / "keys").string();
    need(seal::make_keys(keys_folder, seal::Passphrase("a passphrase"), "2026-01-01", {1, 8192}));
    const auto key = need(seal::unlock_key(keys_folder, seal::Passphrase("a passphrase")));
    const auto keys = need(seal::PublicKeys::read(keys_folder + "/public-keys.txt"));
    seal::CertificateWish wish{"Invented Laboratory", "", "ZZ", "2026-01-01", 3};
    const auto p12 = need(seal::make_certificate(wish, seal::Passphrase("a passphrase")));
    const auto signer = need(seal::X509Key::open(p12, seal::Passphrase("a passphrase"), "signer"));
    write(test::scratch_dir() / "signer.pem", signer.certificate_pem());

    report::CertificateOptions options;
    options.words = test::sample_words(test::source_dir());
    options.signature = {signer.cms_size(), signer.facts().name, std::string(day) + "T09:00:00Z"};
    const report::Record record = test::sample_record();
    const auto pdf = need(report::draw_certificate(record, options));
    const auto begin = std::chrono::steady_clock::now();
    const std::string sealed = need(seal::seal_signed_pdf(pdf, "B1-2026-00001", day, key, signer));
    const double ms = 1e3 * std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();

    const Judge judge{.keys = keys};
    if (!judge.pdfsig(sealed) || !judge.openssl(sealed) || !judge.program(sealed)) {
        std::fprintf(stderr, "signature_figures: the unchanged certificate is not found good: %s\n",
                     output_of("pdfsig '" + (test::scratch_dir() / "changed.pdf").string() + "'").c_str());
        return 1;
    }
    const std::size_t from = sealed.find("/Contents <") + 11;
    const std::size_t to = sealed.find('>', from);
    Count file, digits;
    const auto change = [&](std::size_t at, unsigned mask, Count& count) {
        std::string changed = sealed;
        changed[at] = static_cast<char>(static_cast<unsigned char>(changed[at]) ^ mask);
        const bool by_pdfsig = judge.pdfsig(changed);
        const bool by_openssl = judge.openssl(changed);
        ++count.places;
        count.pdfsig += by_pdfsig;
        count.openssl += by_openssl;
        count.both += by_pdfsig && by_openssl;
        count.program += judge.program(changed);
    };
    for (int i = 0; i < places; ++i) {
        // Evenly, and the file's ends and the signature's surroundings for sure.
        std::size_t at = static_cast<std::size_t>(i) * (sealed.size() - 1) /
                         static_cast<std::size_t>(std::max(1, places - 1));
        const std::size_t sure[] = {from - 2, to + 1, from - 1, to, sealed.size() - 1};
        if (i > 0 && i <= 5) at = sure[i - 1];
        if (at >= from && at < to) continue;
        change(at, i % 2 == 0 ? 0x01 : 0x80, file);
    }
    for (int i = 0; i < places / 5; ++i)
        change(from + static_cast<std::size_t>(i) * (to - from) /
                          static_cast<std::size_t>(std::max(1, places / 5)),
               0x01, digits);
    bool ok = test::figure("signature_changes_not_told_by_pdfsig", file.pdfsig,
                           ("of_" + std::to_string(file.places)).c_str(), "<=", 0);
    ok &= test::figure("signature_changes_not_told_by_openssl", file.openssl,
                       ("of_" + std::to_string(file.places)).c_str(), "<=", 0);
    ok &= test::figure("signature_changes_not_told_by_program", file.program + digits.program,
                       ("of_" + std::to_string(file.places + digits.places)).c_str(), "<=", 0);
    std::printf("reference signature_digits_not_told pdfsig %d, openssl %d, both %d, of %d\n", digits.pdfsig,
                digits.openssl, digits.both, digits.places);
    // The share that ctest runs is not timed.
    if (argc < 2) ok &= test::figure("signature_seal_and_sign_pdf", ms, "ms", "<=", 15);
    return ok ? 0 : 1;
}
