#include "report/seal/x509.hpp"

#include <openssl/crypto.h>
#include <openssl/err.h>
#include <openssl/pem.h>
#include <openssl/x509v3.h>

#include <algorithm>
#include <ctime>

#include "calib/base/dates.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/keys.hpp"
#include "report/seal/lines.hpp"
#include "report/seal/self_made.hpp"
#include "report/seal/x509_impl.hpp"

namespace tipwright::seal {
namespace {

constexpr unsigned rsa_bits = 3072;
// OWASP's cheat sheet on password storage (2023) for PBKDF2 with HMAC-SHA-256, from memory.
constexpr int pbkdf2_rounds = 600000;

std::string text_of(const X509_NAME* name) {
    BIO* out = BIO_new(BIO_s_mem());
    // Letters beyond ASCII as UTF-8.
    X509_NAME_print_ex(out, name, 0, XN_FLAG_RFC2253 & ~static_cast<unsigned long>(ASN1_STRFLGS_ESC_MSB));
    char* bytes = nullptr;
    const long size = BIO_get_mem_data(out, &bytes);
    std::string text(bytes, static_cast<std::size_t>(size));
    BIO_free(out);
    return text;
}

std::string common_name(const X509_NAME* name, const std::string& whole) {
    const int at = X509_NAME_get_index_by_NID(name, NID_commonName, -1);
    if (at < 0) return whole;
    unsigned char* bytes = nullptr;
    const int size = ASN1_STRING_to_UTF8(&bytes, X509_NAME_ENTRY_get_data(X509_NAME_get_entry(name, at)));
    if (size < 0) return whole;
    std::string out(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(size));
    OPENSSL_free(bytes);
    return out;
}

std::string date_of(const ASN1_TIME* time) {
    std::tm parts{};
    if (ASN1_TIME_to_tm(time, &parts) != 1) return "";
    return iso_text(std::chrono::year(parts.tm_year + 1900) / (parts.tm_mon + 1) / parts.tm_mday);
}

// What OpenSSL wants of a passphrase: a zero at its end. Wiped when it goes.
class ZeroEnded {
public:
    explicit ZeroEnded(const Passphrase& passphrase) : bytes_(passphrase.text().size() + 1, '\0') {
        std::copy(passphrase.text().begin(), passphrase.text().end(), bytes_.begin());
    }
    ~ZeroEnded() { OPENSSL_cleanse(bytes_.data(), bytes_.size()); }
    ZeroEnded(const ZeroEnded&) = delete;
    ZeroEnded& operator=(const ZeroEnded&) = delete;
    const char* text() const { return bytes_.data(); }

private:
    std::vector<char> bytes_;
};

Outcome fit_key(EVP_PKEY* key, const std::string& name) {
    const int kind = EVP_PKEY_get_base_id(key);
    const int bits = EVP_PKEY_get_bits(key);
    if ((kind == EVP_PKEY_RSA && bits >= 2048) || (kind == EVP_PKEY_EC && bits >= 256)) return Done{};
    return Fault{FaultCode::bad_value,
                 "the key is neither RSA of 2048 bits or more nor of a curve of 256 or more", name,
                 "have a certificate made for such a key"};
}

Result<std::string> packed(EVP_PKEY* key, X509* certificate, STACK_OF(X509) * others,
                           const Passphrase& passphrase) {
    if (passphrase.text().size() < min_passphrase_bytes || passphrase.text().size() > max_passphrase_bytes)
        return Fault{FaultCode::bad_value,
                     "the passphrase must have " + std::to_string(min_passphrase_bytes) + " to " +
                         std::to_string(max_passphrase_bytes) + " bytes",
                     "passphrase", ""};
    const ZeroEnded secret(passphrase);
    Pkcs12 file(PKCS12_create(secret.text(), "tipwright", key, certificate, others, NID_aes_256_cbc,
                              NID_aes_256_cbc, pbkdf2_rounds, pbkdf2_rounds, 0));
    std::string out = file ? der_of(file.get(), i2d_PKCS12) : "";
    if (out.empty())
        return Fault{FaultCode::bad_value, "the key cannot be locked: " + openssl_reason(), "certificate",
                     ""};
    return out;
}

}  // namespace

std::string openssl_reason() {
    const unsigned long code = ERR_get_error();
    const char* reason = code == 0 ? nullptr : ERR_reason_error_string(code);
    ERR_clear_error();
    return reason == nullptr ? "no reason given" : reason;
}

CertificateFacts facts_of(X509* certificate) {
    CertificateFacts out;
    out.subject = text_of(X509_get_subject_name(certificate));
    out.name = common_name(X509_get_subject_name(certificate), out.subject);
    out.issuer = text_of(X509_get_issuer_name(certificate));
    out.fingerprint = sha256_hex(der_of(certificate, i2d_X509));
    out.valid_from = date_of(X509_get0_notBefore(certificate));
    out.valid_to = date_of(X509_get0_notAfter(certificate));
    out.self_signed = X509_self_signed(certificate, 0) == 1;
    return out;
}

X509Key::X509Key(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
X509Key::~X509Key() = default;
X509Key::X509Key(X509Key&&) noexcept = default;
X509Key& X509Key::operator=(X509Key&&) noexcept = default;

const CertificateFacts& X509Key::facts() const {
    return impl_->facts;
}

std::size_t X509Key::cms_size() const {
    return impl_->cms_size;
}

Result<X509Key> X509Key::open(std::string_view pkcs12, const Passphrase& passphrase,
                              const std::string& name) {
    const unsigned char* bytes = bytes_of(pkcs12);
    Pkcs12 file(d2i_PKCS12(nullptr, &bytes, static_cast<long>(pkcs12.size())));
    if (!file)
        return Fault{FaultCode::damaged, "no PKCS#12 file: " + openssl_reason(), name,
                     "give a file with key and certificate, as .p12 or .pfx"};
    const ZeroEnded secret(passphrase);
    if (PKCS12_verify_mac(file.get(), secret.text(), static_cast<int>(passphrase.text().size())) != 1) {
        ERR_clear_error();
        return Fault{FaultCode::wrong_passphrase, "the passphrase does not open this file", name,
                     "try again; a file that was changed gives the same answer"};
    }
    EVP_PKEY* key = nullptr;
    X509* certificate = nullptr;
    STACK_OF(X509)* others = nullptr;
    const bool parsed = PKCS12_parse(file.get(), secret.text(), &key, &certificate, &others) == 1;
    auto impl = std::make_unique<Impl>();
    impl->key.reset(key);
    impl->certificate.reset(certificate);
    impl->others.reset(others != nullptr ? others : sk_X509_new_null());
    if (!parsed)
        return Fault{FaultCode::damaged, "cannot be read: " + openssl_reason(), name,
                     "a file locked in an old way: convert it with openssl pkcs12 -legacy"};
    if (!impl->key || !impl->certificate)
        return Fault{FaultCode::missing_field, "holds no private key with its certificate", name,
                     "export both into one file"};
    if (Outcome fit = fit_key(impl->key.get(), name); !fit) return fit.fault();
    impl->facts = facts_of(impl->certificate.get());
    X509Key out(std::move(impl));
    // By a curve the size varies; the middle one of a few is met again soon.
    const std::size_t trials = EVP_PKEY_get_base_id(out.impl_->key.get()) == EVP_PKEY_EC ? 15 : 1;
    std::vector<std::size_t> sizes;
    for (std::size_t i = 0; i < trials; ++i) {
        const auto trial = out.sign_cms("", "");
        if (!trial) return trial.fault();
        sizes.push_back(trial->size());
    }
    std::sort(sizes.begin(), sizes.end());
    out.impl_->cms_size = sizes[sizes.size() / 2];
    return out;
}

std::string X509Key::certificate_pem() const {
    BIO* out = BIO_new(BIO_s_mem());
    PEM_write_bio_X509(out, impl_->certificate.get());
    for (int i = 0; i < sk_X509_num(impl_->others.get()); ++i)
        PEM_write_bio_X509(out, sk_X509_value(impl_->others.get(), i));
    char* bytes = nullptr;
    const long size = BIO_get_mem_data(out, &bytes);
    std::string text(bytes, static_cast<std::size_t>(size));
    BIO_free(out);
    return text;
}

Result<std::string> X509Key::pkcs12(const Passphrase& passphrase) const {
    return packed(impl_->key.get(), impl_->certificate.get(), impl_->others.get(), passphrase);
}

Outcome X509Key::valid_on(const std::string& day) const {
    if (day >= impl_->facts.valid_from && day <= impl_->facts.valid_to) return Done{};
    return Fault{FaultCode::not_permitted,
                 "the X.509 certificate is valid from " + impl_->facts.valid_from + " to " +
                     impl_->facts.valid_to + ", not on " + day,
                 impl_->facts.subject, "give a new one: keys certificate import or make --again"};
}

Result<CertificateFacts> facts_of_pem(std::string_view pem, const std::string& name) {
    BIO* in = BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size()));
    const Certificate certificate(PEM_read_bio_X509(in, nullptr, nullptr, nullptr));
    BIO_free(in);
    if (!certificate) return Fault{FaultCode::damaged, "no certificate (PEM): " + openssl_reason(), name, ""};
    return facts_of(certificate.get());
}

Result<std::string> make_certificate(const CertificateWish& wish, const Passphrase& passphrase) {
    const std::string where = "certificate";
    if (wish.name.empty() || wish.name.size() > 64 || wish.organisation.size() > 64)
        return Fault{FaultCode::bad_value, "the name must have 1 to 64 bytes, the organisation at most 64",
                     where, ""};
    if (!wish.country.empty() && wish.country.size() != 2)
        return Fault{FaultCode::bad_value, in_quotes(wish.country) + " is no country code", where,
                     "give two capital letters after ISO 3166-1"};
    using std::chrono::year_month_day, std::chrono::years, std::chrono::last;
    const auto from = iso_date(wish.made_on);
    if (!from || !(wish.years >= 1 && wish.years <= 30))
        return Fault{FaultCode::bad_value, "date or years are out of range (1 to 30 years)", where, ""};
    year_month_day to = *from + years(wish.years);
    // The 29th of February has no anniversary: the 28th.
    if (!to.ok()) to = to.year() / to.month() / last;
    const PrivateKey key(EVP_RSA_gen(rsa_bits));
    const Certificate certificate = self_made(
        {{{"C", wish.country},
          {"O", wish.organisation},
          {"OU", "self-made certificate, for trials"},
          {"CN", wish.name}},
         *from,
         to,
         {{NID_key_usage, "critical,digitalSignature,nonRepudiation"}, {NID_subject_key_identifier, "hash"}}},
        key.get());
    if (!certificate)
        return Fault{FaultCode::bad_value, "the certificate cannot be made: " + openssl_reason(), where,
                     "is the name UTF-8?"};
    return packed(key.get(), certificate.get(), nullptr, passphrase);
}

}  // namespace tipwright::seal
