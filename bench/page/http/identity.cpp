#include "bench/page/http/identity.hpp"

#include <openssl/bio.h>
#include <openssl/err.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509v3.h>

#include <boost/asio/ip/address.hpp>
#include <chrono>
#include <memory>

#include "calib/base/dates.hpp"
#include "report/seal/self_made.hpp"
#include "report/seal/x509.hpp"

namespace tipwright::page {

namespace {

using seal::Certificate, seal::FreeWith, seal::PrivateKey;
using Bytes = std::unique_ptr<BIO, FreeWith<BIO_free_all>>;

Bytes reading(const std::string& text) {
    return Bytes(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
}

std::string text_of(BIO* bytes) {
    char* data = nullptr;
    const long size = BIO_get_mem_data(bytes, &data);
    return size > 0 ? std::string(data, static_cast<std::size_t>(size)) : std::string();
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
    const auto made_on = iso_date(today);
    const PrivateKey key(EVP_EC_gen("P-256"));
    if (list.empty() || !made_on || !key) return failed;
    const std::chrono::sys_days day = *made_on;
    const Certificate certificate = seal::self_made({{{"CN", "tipwright page, self-made"}},
                                                     day - std::chrono::days(1),  // for clocks that lag
                                                     day + std::chrono::days(identity_days),
                                                     {{NID_key_usage, "critical,digitalSignature"},
                                                      {NID_ext_key_usage, "serverAuth"},
                                                      {NID_subject_alt_name, list}}},
                                                    key.get());
    if (!certificate) return failed;
    const Bytes certificate_out(BIO_new(BIO_s_mem()));
    const Bytes key_out(BIO_new(BIO_s_secmem()));
    if (PEM_write_bio_X509(certificate_out.get(), certificate.get()) != 1 ||
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
    const PrivateKey key(PEM_read_bio_PrivateKey(in.get(), nullptr, no_passphrase, nullptr));
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
