// A self-made (self-signed) X.509 certificate, version 3 (RFC 5280), with a serial number of 127 random bits:
// what the laboratory's trial certificate and the page's have in common. No authority: CA:FALSE.
#pragma once

#include <chrono>
#include <string>
#include <utility>
#include <vector>

#include "report/seal/openssl.hpp"

namespace tipwright::seal {

struct SelfMade {
    // Parts of the subject by their short names, in order: {"O", "..."}; empty ones are left out. UTF-8.
    std::vector<std::pair<const char*, std::string>> subject;
    std::chrono::year_month_day from;  // from its first second
    std::chrono::year_month_day to;    // to its last
    // Extensions by OpenSSL's number (NID) and in its notation; basic constraints are there without saying.
    std::vector<std::pair<int, std::string>> extensions;
};

// Signed by `key` with SHA-256. Nothing when OpenSSL refuses: openssl_reason() says why.
Certificate self_made(const SelfMade& wish, EVP_PKEY* key);

}  // namespace tipwright::seal
