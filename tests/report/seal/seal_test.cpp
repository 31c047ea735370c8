#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>

#include "report/files/files.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/qr.hpp"
#include "report/seal/seal.hpp"
#include "tests/report/scratch_folder.hpp"

using namespace tipwright;
using namespace tipwright::seal;

namespace {

constexpr PassphraseCost quick_cost{1, 8192};

// A laboratory with one rotation behind it; `old_key` and `new_key` both seal.
struct Laboratory {
    test::ScratchFolder folder;
    std::string keys = folder / "keys";
    Laboratory() {
        REQUIRE(make_keys(keys, Passphrase("first passphrase"), "2031-01-01", quick_cost));
        old_id = unlock_key(keys, Passphrase("first passphrase"))->public_key().id;
        REQUIRE(rotate_keys(keys, Passphrase("first passphrase"), Passphrase("second passphrase"),
                            "2032-01-01", quick_cost));
    }
    std::string old_id;
    SigningKey old_key() const { return std::move(*unlock(keys, old_id, Passphrase("first passphrase"))); }
    SigningKey new_key() const { return std::move(*unlock_key(keys, Passphrase("second passphrase"))); }
    PublicKeys known() const { return *PublicKeys::read(keys + "/public-keys.txt"); }
};

std::string sample_record() {
    std::string text =
        "{\n  \"format\": \"tipwright record\",\n  \"number\": \"B1-2031-00042\",\n  \"steps\": [\n";
    for (int i = 1; i <= 12; ++i)
        text +=
            "    {\"step\": " + std::to_string(i) + ", \"error_percent\": -" + std::to_string(i) + ".25},\n";
    return text + "  ]\n}\n";
}

}  // namespace

TEST_CASE("seal: a record's seal verifies with the public keys, also after the key was rotated") {
    const Laboratory lab;
    const std::string record = sample_record();
    for (const bool old : {true, false}) {
        const Seal seal = seal_record("B1-2031-00042", fingerprint_of(record),
                                      old ? "2031-06-01" : "2033-01-01", old ? lab.old_key() : lab.new_key());
        CHECK(check_record(seal, lab.known(), record));
        CHECK(seal_from_qr_text(qr_text(seal)).value() == seal);
        CHECK(seal_from_text(seal_text(seal), "seal.txt").value() == seal);
    }
    const Laboratory other;
    const Seal seal = seal_record("B1-2031-00042", fingerprint_of(record), "2033-01-01", other.new_key());
    CHECK(check_record(seal, lab.known(), record).fault().code == FaultCode::unknown_field);
}

TEST_CASE("seal: every changed byte of a record is told, all bytes and all bits") {
    const Laboratory lab;
    const PublicKeys known = lab.known();
    const std::string record = sample_record();
    const std::string as_found = record + "\n";
    const Seal seal =
        seal_record("B1-2031-00042", fingerprint_of(record, as_found), "2033-01-01", lab.new_key());
    REQUIRE(check_record(seal, known, record, as_found));
    std::size_t told = 0;
    std::size_t changed = 0;
    for (std::size_t i = 0; i < record.size(); ++i)
        for (int bit = 0; bit < 8; ++bit) {
            std::string bad = record;
            bad[i] = static_cast<char>(bad[i] ^ (1 << bit));
            ++changed;
            const Outcome checked = check_record(seal, known, bad, as_found);
            if (!checked && checked.fault().code == FaultCode::damaged) ++told;
            bad = as_found;
            bad[i] = static_cast<char>(bad[i] ^ (1 << bit));
            ++changed;
            if (!check_record(seal, known, record, bad)) ++told;
        }
    CHECK(told == changed);
    CHECK_FALSE(check_record(seal, known, record));
    CHECK_FALSE(check_record(seal, known, as_found, record));
    CHECK_FALSE(check_record(seal, known, record.substr(0, record.size() - 1), as_found));
}

TEST_CASE("seal: every changed byte of a seal, as text and as QR text, is told") {
    const Laboratory lab;
    const PublicKeys known = lab.known();
    const Seal seal =
        seal_record("B1-2031-00042", fingerprint_of(sample_record()), "2033-01-01", lab.new_key());
    const std::string qr = qr_text(seal);
    const std::string file = seal_text(seal);
    std::size_t accepted = 0;
    for (int flip = 1; flip < 256; ++flip) {
        for (std::size_t i = 0; i < qr.size(); ++i) {
            std::string bad = qr;
            bad[i] = static_cast<char>(bad[i] ^ flip);
            // A reader may add line ends; nothing else may pass.
            if (i + 1 == qr.size() && (bad[i] == '\n' || bad[i] == '\r')) continue;
            const Result<Seal> read = seal_from_qr_text(bad);
            if (read && check_seal(*read, known)) ++accepted;
        }
        if (flip > 32) continue;
        for (std::size_t i = 0; i < file.size(); ++i) {
            std::string bad = file;
            bad[i] = static_cast<char>(bad[i] ^ flip);
            const Result<Seal> read = seal_from_text(bad, "seal.txt");
            if (read && check_seal(*read, known)) ++accepted;
        }
    }
    CHECK(accepted == 0);
}

TEST_CASE("seal: files carry their seal in the last line and every changed byte is told") {
    const Laboratory lab;
    const PublicKeys known = lab.known();
    const SigningKey key = lab.new_key();
    const std::pair<FileKind, std::string> files[] = {
        {FileKind::pdf, "%PDF-1.4\n1 0 obj\n<< /Type /Catalog >>\nendobj\nstartxref\n0\n%%EOF"},
        {FileKind::xml, "<?xml version=\"1.0\"?>\n<a>\n  <b c=\"1\"/>\n</a>\n"},
        {FileKind::text, "ab12  certificate.pdf\ncd34  record.json\n"},
        {FileKind::text, ""},
    };
    for (const auto& [kind, bytes] : files) {
        const std::string sealed = seal_file(kind, bytes, "B1-2031-00042", "2033-01-01", key);
        CHECK(sealed.starts_with(bytes));
        const Result<FileSeal> good = check_file(sealed, known, "file");
        REQUIRE(good);
        CHECK(good->number == "B1-2031-00042");
        CHECK(good->kind == kind);
        std::size_t accepted = 0;
        for (std::size_t i = 0; i < sealed.size(); ++i)
            for (int flip = 1; flip < 256; flip *= 2) {
                std::string bad = sealed;
                bad[i] = static_cast<char>(bad[i] ^ flip);
                if (check_file(bad, known, "file")) ++accepted;
            }
        for (std::size_t length = 0; length < sealed.size(); ++length)
            if (check_file(sealed.substr(0, length), known, "file")) ++accepted;
        CHECK(accepted == 0);
        CHECK_FALSE(check_file(sealed + "x", known, "file"));
        CHECK_FALSE(check_file(sealed + "\n", known, "file"));
        CHECK_FALSE(check_file("x" + sealed, known, "file"));
        CHECK(check_file(bytes, known, "file").fault().code == FaultCode::missing_field);
    }
}

TEST_CASE("seal: certificate numbers are plain capital text") {
    for (const char* number : {"B1-2031-00042", "A", "0", "LAB-B1-2031-1"})
        CHECK(is_certificate_number(number));
    for (const char* number : {"", "-A", "A-", "A--B", "b1-2031-1", "B1 2031", "B1/2031", "Ä1",
                               "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"})
        CHECK_FALSE(is_certificate_number(number));
}

TEST_CASE("seal: texts that are no seal are refused in one line") {
    CHECK(seal_from_qr_text("").fault().code == FaultCode::syntax);
    CHECK(seal_from_qr_text("https://example.org").fault().code == FaultCode::syntax);
    CHECK(seal_from_qr_text(std::string(100000, 'A')).fault().code == FaultCode::syntax);
    CHECK(seal_from_qr_text("TIPWRIGHT SEAL 3 NO A SHA256 B KEY C SIG D").fault().code ==
          FaultCode::unsupported_version);
    CHECK(seal_from_text("", "s").fault().code == FaultCode::syntax);
    CHECK(seal_from_text("tipwright seal 1.0\nnumber A\n", "s").fault().where == "s:2");
}

TEST_CASE("seal: the QR code is read back by a general-purpose reader") {
    if (std::system("command -v zbarimg >/dev/null 2>&1") != 0)
        FAIL("zbarimg is not installed; see bench/install.sh");
    const Laboratory lab;
    const Seal seal =
        seal_record("B1-2031-00042", fingerprint_of(sample_record()), "2033-01-01", lab.new_key());
    const Result<QrMatrix> code = qr_matrix(qr_text(seal));
    REQUIRE(code);
    CHECK(code->side <= 57);  // version 10: 28 mm at 0.5 mm a module
    const int scale = 4;
    const int quiet = 4;
    const int side = (code->side + 2 * quiet) * scale;
    std::string picture = "P5\n" + std::to_string(side) + " " + std::to_string(side) + "\n255\n";
    for (int y = 0; y < side; ++y)
        for (int x = 0; x < side; ++x) {
            const int row = y / scale - quiet;
            const int column = x / scale - quiet;
            const bool inside = row >= 0 && column >= 0 && row < code->side && column < code->side;
            picture.push_back(inside && code->at(row, column) ? '\0' : '\xff');
        }
    const std::string path = lab.folder / "code.pgm";
    REQUIRE(write_file(path, picture));
    std::string read;
    FILE* reader = ::popen(("zbarimg --quiet --raw " + path).c_str(), "r");
    REQUIRE(reader != nullptr);
    char piece[512];
    while (std::fgets(piece, sizeof piece, reader) != nullptr) read += piece;
    REQUIRE(::pclose(reader) == 0);
    const Result<Seal> back = seal_from_qr_text(read);
    REQUIRE(back);
    CHECK(*back == seal);
    CHECK(check_record(*back, lab.known(), sample_record()));
    CHECK_FALSE(qr_matrix(""));
    CHECK_FALSE(qr_matrix(std::string(5000, 'A')));
}
