// The laboratory's X.509 certificate with its private key, and the CMS signature (RFC 5652) it makes beside
// the Ed25519 seal, so that any PDF reader can tell who signed and that nothing was changed. By OpenSSL 3.
// The signature is detached, with the attributes of PAdES baseline B-B (ETSI EN 319 142-1 clause 6.3):
// content-type, message-digest (SHA-256), signing-certificate-v2 (RFC 5035), and no signing-time. Keys: RSA
// of 2048 bits or more, or a curve P-256, P-384, P-521. Kept as PKCS#12 (RFC 7292). A key in a smart card or
// HSM (PKCS#11) cannot be used.
// Faults: wrong_passphrase, damaged, bad_value (kind of key, texts), not_permitted (outside its validity).
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/seal/passphrase.hpp"

namespace tipwright::seal {

// What a certificate says of itself.
struct CertificateFacts {
    std::string name;     // common name, else the whole subject
    std::string subject;  // "CN=..., O=..., C=.." (RFC 2253)
    std::string issuer;
    std::string fingerprint;  // SHA-256 of the certificate, 64 hex digits
    std::string valid_from;   // ISO date
    std::string valid_to;
    bool self_signed = false;
};

class X509Key {
public:
    // `name` for messages. `passphrase` of the PKCS#12 file.
    static Result<X509Key> open(std::string_view pkcs12, const Passphrase& passphrase,
                                const std::string& name);
    ~X509Key();
    X509Key(X509Key&&) noexcept;
    X509Key& operator=(X509Key&&) noexcept;

    const CertificateFacts& facts() const;
    std::string certificate_pem() const;
    // The same key and certificates as PKCS#12 under another passphrase (PBES2 with AES-256).
    Result<std::string> pkcs12(const Passphrase& passphrase) const;
    // Fault not_permitted when the ISO date lies outside its validity.
    Outcome valid_on(const std::string& day) const;

    // Signature in DER over two stretches of bytes, one after the other. Always of the same size. On any
    // number of threads at once.
    Result<std::string> sign_cms(std::string_view first, std::string_view second) const;
    std::size_t cms_size() const;

    struct Impl;
    const Impl& impl() const { return *impl_; }

private:
    explicit X509Key(std::unique_ptr<Impl> impl);
    std::unique_ptr<Impl> impl_;
};

struct CertificateWish {
    std::string name;          // common name: the laboratory or who signs for it
    std::string organisation;  // may be empty
    std::string country;       // ISO 3166-1 alpha-2; may be empty
    std::string made_on;       // ISO date
    int years = 3;             // 1 to 30
};
// A self-made certificate with a new RSA key of 3072 bits, as PKCS#12; says in its subject that it is
// self-made, for no reader trusts it until told to.
Result<std::string> make_certificate(const CertificateWish& wish, const Passphrase& passphrase);

// Of the first certificate in a PEM file. Fault damaged.
Result<CertificateFacts> facts_of_pem(std::string_view pem, const std::string& name);

// Checks a signature of sign_cms() over the two stretches, to the last byte, by the certificate of this
// fingerprint inside it. Whether that certificate is to be trusted is the caller's business.
Result<CertificateFacts> check_cms(std::string_view der, std::string_view first, std::string_view second,
                                   std::string_view fingerprint, const std::string& name);

}  // namespace tipwright::seal
