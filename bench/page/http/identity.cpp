#include "bench/page/http/identity.hpp"

#include <openssl/bio.h>
#include <openssl/err.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/x509.h>
#include <openssl/x509v3.h>

#include <array>
#include <boost/asio/ip/address.hpp>
#include <memory>

#include "report/seal/x509.hpp"

namespace tipwright::page {

namespace {

constexpr long day_s = 24L * 3600;

template <class T, void (*release)(T*)>
struct Release {
    void operator()(T* held) const { release(held); }
};
using Key = std::unique_ptr<EVP_PKEY, Release<EVP_PKEY, EVP_PKEY_free>>;
using Certificate = std::unique_ptr<X509, Release<X509, X509_free>>;
using Bytes = std::unique_ptr<BIO, Release<BIO, BIO_free_all>>;

Bytes reading(const std::string& text) {
    return Bytes(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
}

std::string text_of(BIO* bytes) {
    char* data = nullptr;
    const long size = BIO_get_mem_data(bytes, &data);
    return size > 0 ? std::string(data, static_cast<std::size_t>(size)) : std::string();
}

bool add_extension(X509* certificate, int kind, const std::string& value) {
    X509V3_CTX context;
    X509V3_set_ctx_nodb(&context);
    X509V3_set_ctx(&context, certificate, certificate, nullptr, nullptr, 0);
    X509_EXTENSION* extension = X509V3_EXT_conf_nid(nullptr, &context, kind, value.c_str());
    if (extension == nullptr) return false;
    const bool added = X509_add_ext(certificate, extension, -1) == 1;
    X509_EXTENSION_free(extension);
    return added;
}

// "DNS:bench,IP:192.0.2.7"; a name that could end its part of the list is left out.
std::string alternative_names(const std::vector<std::string>& names) {
    std::string out;
    for (const std::string& name : names) {
        if (name.empty() || name.find_first_of(",:\\\"' \n") != std::string::npos) {
            boost::system::error_code error;
            const auto address = boost::asio::ip::make_address(name, error);
            if (error || address.is_v4()) continue;
        }
        boost::system::error_code error;
        boost::asio::ip::make_address(name, error);
        out += (out.empty() ? "" : ",") + std::string(error ? "DNS:" : "IP:") + name;
    }
    return out;
}

Certificate certificate_of(const Identity& identity) {
    const Bytes in = reading(identity.certificate_pem);
    return Certificate(PEM_read_bio_X509(in.get(), nullptr, nullptr, nullptr));
}

// A key with a passphrase is not asked for one at the terminal.
int no_passphrase(char*, int, int, void*) {
    return 0;
}

}  // namespace

Result<Identity> make_identity(const std::vector<std::string>& names, const std::string& today) {
    const Fault failed{FaultCode::not_permitted, "no certificate can be made for the page", "TLS",
                       "give one with --certificate and --key"};
    const std::string list = alternative_names(names);
    const Key key(EVP_EC_gen("P-256"));
    const Certificate certificate(X509_new());
    std::array<unsigned char, 16> serial{};
    if (list.empty() || today.size() != 10 || !key || !certificate ||
        RAND_bytes(serial.data(), serial.size()) != 1)
        return failed;
    serial[0] &= 0x7F;
    const std::string midnight = today.substr(0, 4) + today.substr(5, 2) + today.substr(8, 2) + "000000Z";
    BIGNUM* number = BN_bin2bn(serial.data(), static_cast<int>(serial.size()), nullptr);
    X509_NAME* name = X509_get_subject_name(certificate.get());
    const auto* words = reinterpret_cast<const unsigned char*>("tipwright page, self-made");
    // The day before, for clocks that lag.
    ASN1_TIME* from = X509_getm_notBefore(certificate.get());
    ASN1_TIME* to = X509_getm_notAfter(certificate.get());
    const bool made = number != nullptr && X509_set_version(certificate.get(), X509_VERSION_3) == 1 &&
                      BN_to_ASN1_INTEGER(number, X509_get_serialNumber(certificate.get())) != nullptr &&
                      ASN1_TIME_set_string_X509(from, midnight.c_str()) == 1 &&
                      ASN1_TIME_set_string_X509(to, midnight.c_str()) == 1;
    BN_free(number);
    std::tm day{};
    if (!made || ASN1_TIME_to_tm(from, &day) != 1) return failed;
    std::tm last = day;
    if (OPENSSL_gmtime_adj(&day, -1, 0) != 1 || OPENSSL_gmtime_adj(&last, identity_days, day_s - 1) != 1)
        return failed;
    const auto set = [](ASN1_TIME* time, const std::tm& value) {
        char text[32];
        std::snprintf(text, sizeof text, "%04d%02d%02d%02d%02d%02dZ", value.tm_year + 1900, value.tm_mon + 1,
                      value.tm_mday, value.tm_hour, value.tm_min, value.tm_sec);
        return ASN1_TIME_set_string_X509(time, text) == 1;
    };
    const bool signed_well = set(from, day) && set(to, last) &&
                             X509_set_pubkey(certificate.get(), key.get()) == 1 &&
                             X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_UTF8, words, -1, -1, 0) == 1 &&
                             X509_set_issuer_name(certificate.get(), name) == 1 &&
                             add_extension(certificate.get(), NID_basic_constraints, "critical,CA:FALSE") &&
                             add_extension(certificate.get(), NID_key_usage, "critical,digitalSignature") &&
                             add_extension(certificate.get(), NID_ext_key_usage, "serverAuth") &&
                             add_extension(certificate.get(), NID_subject_alt_name, list) &&
                             X509_sign(certificate.get(), key.get(), EVP_sha256()) > 0;
    const Bytes certificate_out(BIO_new(BIO_s_mem()));
    const Bytes key_out(BIO_new(BIO_s_secmem()));
    if (!signed_well || PEM_write_bio_X509(certificate_out.get(), certificate.get()) != 1 ||
        PEM_write_bio_PKCS8PrivateKey(key_out.get(), key.get(), nullptr, nullptr, 0, nullptr, nullptr) != 1)
        return failed;
    return Identity{text_of(certificate_out.get()), text_of(key_out.get())};
}

Result<std::string> fingerprint_of(const Identity& identity) {
    const auto facts = seal::facts_of_pem(identity.certificate_pem, "TLS");
    if (!facts) return facts.fault();
    std::string out;
    for (std::size_t k = 0; k < facts->fingerprint.size(); ++k) {
        if (k > 0 && k % 2 == 0) out += ':';
        const char c = facts->fingerprint[k];
        out += c >= 'a' && c <= 'f' ? static_cast<char>(c - 'a' + 'A') : c;
    }
    return out;
}

Outcome check_identity(const Identity& identity, const std::string& today, const std::string& where) {
    const auto facts = seal::facts_of_pem(identity.certificate_pem, where);
    if (!facts) return facts.fault();
    if (!(today >= facts->valid_from && today <= facts->valid_to))
        return Fault{
            FaultCode::not_permitted,
            "the certificate is valid from " + facts->valid_from + " to " + facts->valid_to + ", not today",
            where, "give a new one"};
    const Bytes in = reading(identity.key_pem);
    const Key key(PEM_read_bio_PrivateKey(in.get(), nullptr, no_passphrase, nullptr));
    const Certificate certificate = certificate_of(identity);
    const bool fits = key && certificate && X509_check_private_key(certificate.get(), key.get()) == 1;
    ERR_clear_error();
    if (!key)
        return Fault{FaultCode::damaged,
                     "no private key (PEM, without a passphrase) stands in the key's file", where,
                     "give the key of this certificate with --key"};
    if (!fits)
        return Fault{FaultCode::inconsistent, "certificate and key do not belong together", where,
                     "give the key of this certificate with --key"};
    return Done{};
}

}  // namespace tipwright::page
