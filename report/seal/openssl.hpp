// Owners of what OpenSSL allocates. For source files that make or read certificates and signatures.
#pragma once

#include <openssl/cms.h>
#include <openssl/evp.h>
#include <openssl/pkcs12.h>
#include <openssl/x509.h>

#include <memory>
#include <string>

namespace tipwright::seal {

template <auto free_it>
struct FreeWith {
    template <class T>
    void operator()(T* what) const {
        free_it(what);
    }
};
inline void free_certificates(STACK_OF(X509) * stack) {
    sk_X509_pop_free(stack, X509_free);
}

using Certificate = std::unique_ptr<X509, FreeWith<X509_free>>;
using Certificates = std::unique_ptr<STACK_OF(X509), FreeWith<free_certificates>>;
using PrivateKey = std::unique_ptr<EVP_PKEY, FreeWith<EVP_PKEY_free>>;
using Cms = std::unique_ptr<CMS_ContentInfo, FreeWith<CMS_ContentInfo_free>>;
using Pkcs12 = std::unique_ptr<PKCS12, FreeWith<PKCS12_free>>;
using DigestContext = std::unique_ptr<EVP_MD_CTX, FreeWith<EVP_MD_CTX_free>>;

// DER of anything that has an i2d function; empty when OpenSSL cannot.
template <class T, class Encode>
std::string der_of(T* what, Encode encode) {
    unsigned char* bytes = nullptr;
    const int size = encode(what, &bytes);
    if (size <= 0) return "";
    std::string out(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(size));
    OPENSSL_free(bytes);
    return out;
}

inline const unsigned char* bytes_of(std::string_view text) {
    return reinterpret_cast<const unsigned char*>(text.data());
}

}  // namespace tipwright::seal
