// What an X509Key holds. Private to report/seal.
#pragma once

#include "report/seal/openssl.hpp"
#include "report/seal/x509.hpp"

namespace tipwright::seal {

struct X509Key::Impl {
    PrivateKey key;
    Certificate certificate;
    Certificates others;  // of its issuers, as the file has them; never null
    CertificateFacts facts;
    std::size_t cms_size = 0;
};

CertificateFacts facts_of(X509* certificate);
// What OpenSSL says of its last failure; forgets it.
std::string openssl_reason();

}  // namespace tipwright::seal
