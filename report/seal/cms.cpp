// CMS part of x509.hpp. OpenSSL 3.0 always adds a signing-time to what it signs, which PAdES forbids; so the
// attributes are laid out with its functions and signed here.
#include <openssl/err.h>

#include <algorithm>
#include <array>
#include <vector>

#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/x509_impl.hpp"

namespace tipwright::seal {
namespace {

constexpr unsigned how = CMS_DETACHED | CMS_BINARY | CMS_PARTIAL | CMS_NOSMIMECAP;
constexpr int most_tries = 200;

std::string digest_of(std::string_view first, std::string_view second) {
    Sha256 digest;
    digest.add(first);
    digest.add(second);
    return digest.bytes();
}

// All but the signature. `key` may be the public one: only its kind is looked at.
Cms laid_out(X509* signer, EVP_PKEY* key, STACK_OF(X509) * others, const std::string& digest) {
    Cms cms(CMS_sign(nullptr, nullptr, others, nullptr, how));
    CMS_SignerInfo* info =
        cms ? CMS_add1_signer(cms.get(), signer, key, EVP_sha256(), how | CMS_CADES) : nullptr;
    if (info == nullptr ||
        CMS_signed_add1_attr_by_NID(info, NID_pkcs9_contentType, V_ASN1_OBJECT, OBJ_nid2obj(NID_pkcs7_data),
                                    -1) != 1 ||
        CMS_signed_add1_attr_by_NID(info, NID_pkcs9_messageDigest, V_ASN1_OCTET_STRING, digest.data(),
                                    static_cast<int>(digest.size())) != 1)
        return nullptr;
    return cms;
}

CMS_SignerInfo* signer_of(CMS_ContentInfo* cms) {
    STACK_OF(CMS_SignerInfo)* all = CMS_get0_SignerInfos(cms);
    return all != nullptr && sk_CMS_SignerInfo_num(all) == 1 ? sk_CMS_SignerInfo_value(all, 0) : nullptr;
}

// RFC 5652 clause 5.4: what is signed is the DER of the attributes as an explicit SET OF.
std::string signed_bytes(CMS_SignerInfo* info) {
    std::vector<std::string> parts;
    std::size_t size = 0;
    for (int i = 0; i < CMS_signed_get_attr_count(info); ++i) {
        parts.push_back(der_of(CMS_signed_get_attr(info, i), i2d_X509_ATTRIBUTE));
        size += parts.back().size();
    }
    std::sort(parts.begin(), parts.end());  // X.690 clause 11.6
    std::string out = "\x31";
    if (size < 0x80) {
        out += static_cast<char>(size);
    } else {
        out += size < 0x100 ? "\x81" : "\x82";
        if (size >= 0x100) out += static_cast<char>(size >> 8);
        out += static_cast<char>(size & 0xFF);
    }
    for (const std::string& part : parts) out += part;
    return out;
}

std::string signature_over(EVP_PKEY* key, const std::string& bytes) {
    DigestContext context(EVP_MD_CTX_new());
    std::size_t size = 0;
    if (!context || EVP_DigestSignInit(context.get(), nullptr, EVP_sha256(), nullptr, key) != 1 ||
        EVP_DigestSign(context.get(), nullptr, &size, bytes_of(bytes), bytes.size()) != 1)
        return "";
    std::string out(size, '\0');
    if (EVP_DigestSign(context.get(), reinterpret_cast<unsigned char*>(out.data()), &size, bytes_of(bytes),
                       bytes.size()) != 1)
        return "";
    out.resize(size);
    return out;
}

Fault changed(const std::string& name, const std::string& what) {
    ERR_clear_error();
    return {FaultCode::damaged, what, name, "do not rely on this file; ask the laboratory"};
}

}  // namespace

Result<std::string> X509Key::sign_cms(std::string_view first, std::string_view second) const {
    const Cms cms =
        laid_out(impl_->certificate.get(), impl_->key.get(), impl_->others.get(), digest_of(first, second));
    CMS_SignerInfo* info = cms ? signer_of(cms.get()) : nullptr;
    if (info == nullptr)
        return Fault{FaultCode::bad_value, "cannot sign: " + openssl_reason(), impl_->facts.subject, ""};
    const std::string bytes = signed_bytes(info);
    // The size of a signature by a curve varies by a few bytes: once more until it is the usual one, so that
    // the place for it in a file is filled whole.
    for (int i = 0; i < most_tries; ++i) {
        const std::string signature = signature_over(impl_->key.get(), bytes);
        if (signature.empty() || ASN1_STRING_set(CMS_SignerInfo_get0_signature(info), signature.data(),
                                                 static_cast<int>(signature.size())) != 1)
            break;
        std::string out = der_of(cms.get(), i2d_CMS_ContentInfo);
        if (out.empty()) break;
        if (impl_->cms_size == 0 || out.size() == impl_->cms_size) return out;
    }
    return Fault{FaultCode::bad_value, "cannot sign: " + openssl_reason(), impl_->facts.subject, ""};
}

Result<CertificateFacts> check_cms(std::string_view der, std::string_view first, std::string_view second,
                                   std::string_view fingerprint, const std::string& name) {
    const unsigned char* at = bytes_of(der);
    const Cms given(d2i_CMS_ContentInfo(nullptr, &at, static_cast<long>(der.size())));
    CMS_SignerInfo* info = given ? signer_of(given.get()) : nullptr;
    const Certificates all(given ? CMS_get1_certs(given.get()) : nullptr);
    if (info == nullptr || !all) return changed(name, "the X.509 signature cannot be read: it was changed");
    Certificate signer;
    const Certificates others(sk_X509_new_null());
    for (int i = 0; i < sk_X509_num(all.get()); ++i) {
        X509* one = sk_X509_value(all.get(), i);
        X509_up_ref(one);
        if (!signer && sha256_hex(der_of(one, i2d_X509)) == fingerprint)
            signer.reset(one);
        else
            sk_X509_push(others.get(), one);
    }
    EVP_PKEY* key = signer ? X509_get0_pubkey(signer.get()) : nullptr;
    if (key == nullptr)
        return changed(name, "the X.509 signature is not by the certificate that the seal names");
    // Laid out again from the file's own bytes it must be the same to the last byte: what the signature does
    // not cover (versions, algorithms) is covered so.
    const Cms again = laid_out(signer.get(), key, others.get(), digest_of(first, second));
    CMS_SignerInfo* info_again = again ? signer_of(again.get()) : nullptr;
    const ASN1_OCTET_STRING* signature = CMS_SignerInfo_get0_signature(info);
    const auto size = static_cast<std::size_t>(ASN1_STRING_length(signature));
    if (info_again == nullptr ||
        ASN1_STRING_set(CMS_SignerInfo_get0_signature(info_again), ASN1_STRING_get0_data(signature),
                        static_cast<int>(size)) != 1)
        return changed(name, "the X.509 signature cannot be checked: " + openssl_reason());
    if (der_of(again.get(), i2d_CMS_ContentInfo) != der)
        return changed(name, "the X.509 signature does not fit the file: one of them was changed");
    const std::string bytes = signed_bytes(info_again);
    const DigestContext context(EVP_MD_CTX_new());
    if (!context || EVP_DigestVerifyInit(context.get(), nullptr, EVP_sha256(), nullptr, key) != 1 ||
        EVP_DigestVerify(context.get(), ASN1_STRING_get0_data(signature), size, bytes_of(bytes),
                         bytes.size()) != 1)
        return changed(name, "the X.509 signature is not by its certificate's key: it was changed");
    return facts_of(signer.get());
}

}  // namespace tipwright::seal
