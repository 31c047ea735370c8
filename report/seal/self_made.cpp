#include "report/seal/self_made.hpp"

#include <openssl/rand.h>
#include <openssl/x509v3.h>

#include <array>
#include <cstdio>

namespace tipwright::seal {

namespace {

using Number = std::unique_ptr<BIGNUM, FreeWith<BN_free>>;
using Extension = std::unique_ptr<X509_EXTENSION, FreeWith<X509_EXTENSION_free>>;

bool number(X509* certificate) {
    std::array<unsigned char, 16> bytes{};
    if (RAND_bytes(bytes.data(), bytes.size()) != 1) return false;
    bytes[0] &= 0x7F;  // positive in DER without one byte more
    const Number value(BN_bin2bn(bytes.data(), bytes.size(), nullptr));
    return value && BN_to_ASN1_INTEGER(value.get(), X509_get_serialNumber(certificate)) != nullptr;
}

bool set(ASN1_TIME* time, std::chrono::year_month_day day, const char* time_of_day) {
    char text[32];
    std::snprintf(text, sizeof text, "%04d%02u%02u%sZ", static_cast<int>(day.year()),
                  static_cast<unsigned>(day.month()), static_cast<unsigned>(day.day()), time_of_day);
    return ASN1_TIME_set_string_X509(time, text) == 1;
}

bool add_name(X509_NAME* name, const char* part, const std::string& text) {
    return text.empty() || X509_NAME_add_entry_by_txt(name, part, MBSTRING_UTF8, bytes_of(text),
                                                      static_cast<int>(text.size()), -1, 0) == 1;
}

bool add_extension(X509* certificate, int kind, const std::string& value) {
    X509V3_CTX context;
    X509V3_set_ctx_nodb(&context);
    X509V3_set_ctx(&context, certificate, certificate, nullptr, nullptr, 0);
    const Extension extension(X509V3_EXT_conf_nid(nullptr, &context, kind, value.c_str()));
    return extension && X509_add_ext(certificate, extension.get(), -1) == 1;
}

}  // namespace

Certificate self_made(const SelfMade& wish, EVP_PKEY* key) {
    Certificate out(X509_new());
    if (!out || key == nullptr) return nullptr;
    X509* made = out.get();
    X509_NAME* name = X509_get_subject_name(made);
    bool good = X509_set_version(made, X509_VERSION_3) == 1 && number(made) &&
                set(X509_getm_notBefore(made), wish.from, "000000") &&
                set(X509_getm_notAfter(made), wish.to, "235959") && X509_set_pubkey(made, key) == 1;
    for (const auto& [part, text] : wish.subject) good = good && add_name(name, part, text);
    good = good && X509_set_issuer_name(made, name) == 1 &&
           add_extension(made, NID_basic_constraints, "critical,CA:FALSE");
    for (const auto& [kind, value] : wish.extensions) good = good && add_extension(made, kind, value);
    if (!good || X509_sign(made, key, EVP_sha256()) <= 0) return nullptr;
    return out;
}

}  // namespace tipwright::seal
