// The X.509 signature by the library alone; other hands check it in tests/whole_program/signature_test.sh.
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "report/seal/pdf_place.hpp"
#include "report/seal/pdf_signature.hpp"
#include "report/seal/xml_signature.hpp"
#include "tests/report/scratch_folder.hpp"

using namespace tipwright;

namespace {

seal::Passphrase secret() {
    return seal::Passphrase("a passphrase");
}

template <class T>
T got(Result<T> result) {
    if (!result) FAIL(result.fault().line());
    return std::move(result.value());
}

// Made once: keys of 3072 bits take their time.
const std::string& p12() {
    static const std::string made =
        got(seal::make_certificate({"Labör", "Org", "ZZ", "2028-02-29", 3}, secret()));
    return made;
}

const seal::X509Key& signer() {
    static const seal::X509Key key = got(seal::X509Key::open(p12(), secret(), "signer"));
    return key;
}

std::string plain_pdf(std::size_t cms_bytes) {
    std::string range;
    for (const long long place : seal::byte_range_places) range += " " + std::to_string(place);
    return "%PDF-1.7\n<< /ByteRange [ 0" + range + " ] /Contents <" + std::string(2 * cms_bytes, '0') +
           "> >>\n%%EOF\n";
}

struct Sealed {
    test::ScratchFolder folder;
    std::string keys_folder = folder / "keys";
    seal::PublicKey made = got(seal::make_keys(keys_folder, secret(), "2028-03-01", {1, 8192}));
    seal::SigningKey key = got(seal::unlock_key(keys_folder, secret()));
    seal::PublicKeys keys = got(seal::PublicKeys::read(keys_folder + "/public-keys.txt"));
    std::string pdf = got(
        seal::seal_signed_pdf(plain_pdf(signer().cms_size()), "B1-2028-00001", "2028-03-01", key, signer()));
};

}  // namespace

TEST_CASE("a self-made certificate says what it is, and for how long") {
    const seal::CertificateFacts& facts = signer().facts();
    CHECK(facts.name == "Labör");
    CHECK(facts.subject.find("self-made") != std::string::npos);
    // As RFC 2253 writes names: parts joined by commas, no blank before or behind.
    CHECK(facts.subject.front() != ' ');
    CHECK(facts.subject.find("CN=Labör") != std::string::npos);
    CHECK(facts.self_signed);
    CHECK(facts.valid_from == "2028-02-29");
    CHECK(facts.valid_to == "2031-02-28");
    CHECK(signer().valid_on("2031-02-28").ok());
    CHECK_FALSE(signer().valid_on("2031-03-01").ok());
    CHECK_FALSE(signer().valid_on("2028-02-28").ok());
    CHECK(got(seal::facts_of_pem(signer().certificate_pem(), "pem")).fingerprint == facts.fingerprint);
}

TEST_CASE("a key opens by its passphrase alone, and moves under another") {
    const auto wrong = seal::X509Key::open(p12(), seal::Passphrase("a passphrasf"), "signer");
    REQUIRE_FALSE(wrong.ok());
    CHECK(wrong.fault().code == FaultCode::wrong_passphrase);
    const std::string moved = got(signer().pkcs12(seal::Passphrase("another one")));
    CHECK_FALSE(seal::X509Key::open(moved, secret(), "signer").ok());
    CHECK(got(seal::X509Key::open(moved, seal::Passphrase("another one"), "signer")).facts().fingerprint ==
          signer().facts().fingerprint);
    const auto none = seal::X509Key::open("no file", secret(), "signer");
    REQUIRE_FALSE(none.ok());
    CHECK(none.fault().code == FaultCode::damaged);
    CHECK_FALSE(seal::make_certificate({"", "", "", "2028-01-01", 3}, secret()).ok());
    CHECK_FALSE(seal::make_certificate({"A", "", "Norway", "2028-01-01", 3}, secret()).ok());
    CHECK_FALSE(seal::make_certificate({"A", "", "", "2028-13-01", 3}, secret()).ok());
    CHECK_FALSE(seal::make_certificate({"A", "", "", "2028-01-01", 0}, secret()).ok());
}

TEST_CASE("seal and signature of a PDF: every changed bit of every byte is told") {
    const Sealed sealed;
    const auto good = seal::check_file(sealed.pdf, sealed.keys, "sample");
    INFO((good ? std::string() : good.fault().line()));
    REQUIRE(good.ok());
    REQUIRE(good->signed_by);
    CHECK(good->signed_by->fingerprint == signer().facts().fingerprint);
    CHECK(good->number == "B1-2028-00001");
    std::string changed = sealed.pdf;
    std::size_t not_told = 0;
    for (std::size_t i = 0; i < changed.size(); ++i)
        for (const char mask : {'\x01', '\x20', '\x7F'}) {
            changed[i] = static_cast<char>(sealed.pdf[i] ^ mask);
            not_told += seal::check_file(changed, sealed.keys, "sample").ok();
            changed[i] = sealed.pdf[i];
        }
    CHECK(not_told == 0);
    CHECK_FALSE(seal::check_file(sealed.pdf.substr(0, sealed.pdf.size() - 1), sealed.keys, "sample").ok());
    CHECK_FALSE(seal::check_file(sealed.pdf + "\n", sealed.keys, "sample").ok());
}

// ISO 32000-1:2008, 12.8.1: the range is the file but for the signature itself (from memory).
TEST_CASE("what a PDF says is signed is all of it, from its first byte to its last, but for the signature") {
    const Sealed sealed;
    std::size_t at = sealed.pdf.find("/ByteRange [") + 12;
    std::vector<std::size_t> range;
    for (; sealed.pdf.compare(at, 1, "]") != 0; ++at)
        if (sealed.pdf[at] != ' ') {
            std::size_t used = 0;
            range.push_back(std::stoul(sealed.pdf.substr(at, 20), &used));
            at += used - 1;
        }
    REQUIRE(range.size() == 4);
    const std::size_t opens = sealed.pdf.find("/Contents <") + 10;
    CHECK(range[0] == 0);
    CHECK(range[1] == opens);
    CHECK(range[2] == opens + 2 * signer().cms_size() + 2);
    CHECK(range[2] + range[3] == sealed.pdf.size());
}

TEST_CASE("another signature in the place of the first is told") {
    const Sealed sealed;
    const auto other = got(seal::X509Key::open(
        got(seal::make_certificate({"Labor", "Org", "ZZ", "2028-02-29", 3}, secret())), secret(), "other"));
    const std::string by_other = got(
        seal::seal_signed_pdf(plain_pdf(other.cms_size()), "B1-2028-00001", "2028-03-01", sealed.key, other));
    REQUIRE(seal::check_file(by_other, sealed.keys, "sample").ok());
    if (other.cms_size() != signer().cms_size()) return;
    std::string mixed = sealed.pdf;
    const std::size_t from = mixed.find("/Contents <") + 11;
    mixed.replace(from, 2 * signer().cms_size(), by_other.substr(from, 2 * signer().cms_size()));
    CHECK_FALSE(seal::check_file(mixed, sealed.keys, "sample").ok());
}

TEST_CASE("a PDF without a place, or with two, is not signed") {
    const Sealed sealed;
    for (const std::string& pdf : {std::string("%PDF-1.7\n%%EOF\n"), plain_pdf(signer().cms_size() - 1),
                                   plain_pdf(signer().cms_size()) + plain_pdf(signer().cms_size())}) {
        const auto refused = seal::seal_signed_pdf(pdf, "B1-2028-00001", "2028-03-01", sealed.key, signer());
        REQUIRE_FALSE(refused.ok());
        CHECK(refused.fault().code == FaultCode::damaged);
    }
}

TEST_CASE("an XML signature covers the document, and a comment after it does no harm") {
    const std::string xml =
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<a xmlns=\"urn:x\"><b>1.50</b></a>\n";
    const std::string with = got(seal::sign_xml(xml, signer()));
    const auto by = seal::check_xml_signature(with + "<!-- seal -->\n", "sample");
    REQUIRE(by.ok());
    CHECK(by->fingerprint == signer().facts().fingerprint);
    std::string changed = with;
    changed.replace(changed.find("1.50"), 4, "1.51");
    CHECK_FALSE(seal::check_xml_signature(changed, "sample").ok());
    const auto none = seal::check_xml_signature(xml, "sample");
    REQUIRE_FALSE(none.ok());
    CHECK(none.fault().code == FaultCode::missing_field);
    CHECK_FALSE(seal::sign_xml("<a>", signer()).ok());
}
