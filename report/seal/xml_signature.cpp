#include "report/seal/xml_signature.hpp"

#include <libxml/parser.h>
#include <libxml/tree.h>
#include <xmlsec/crypto.h>
#include <xmlsec/errors.h>
#include <xmlsec/openssl/evp.h>
#include <xmlsec/templates.h>
#include <xmlsec/xmldsig.h>
#include <xmlsec/xmlsec.h>
#include <xmlsec/xmltree.h>

#include <mutex>

#include "report/seal/encoding.hpp"
#include "report/seal/x509_impl.hpp"

namespace tipwright::seal {
namespace {

using Document = std::unique_ptr<xmlDoc, FreeWith<xmlFreeDoc>>;
using Context = std::unique_ptr<xmlSecDSigCtx, FreeWith<xmlSecDSigCtxDestroy>>;
using Key = std::unique_ptr<xmlSecKey, FreeWith<xmlSecKeyDestroy>>;

bool started() {
    static bool good = false;
    static std::once_flag once;
    std::call_once(once, [] {
        xmlInitParser();
        good = xmlSecInit() >= 0 && xmlSecCryptoAppInit(nullptr) >= 0 && xmlSecCryptoInit() >= 0;
        xmlSecErrorsSetCallback(nullptr);  // a library prints nothing
    });
    return good;
}

const xmlChar* xml_bytes(const char* text) {
    return reinterpret_cast<const xmlChar*>(text);
}

Document parsed(std::string_view xml) {
    return Document(
        xmlReadMemory(xml.data(), static_cast<int>(xml.size()), "certificate.xml", nullptr,
                      XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING | XML_PARSE_HUGE));
}

// Takes the key over for as long as xmlsec has it.
Key key_of(EVP_PKEY* pkey, const std::string& certificate) {
    EVP_PKEY_up_ref(pkey);
    xmlSecKeyDataPtr data = xmlSecOpenSSLEvpKeyAdopt(pkey);
    if (data == nullptr) {
        EVP_PKEY_free(pkey);
        return nullptr;
    }
    Key key(xmlSecKeyCreate());
    if (!key || xmlSecKeySetValue(key.get(), data) < 0) {
        xmlSecKeyDataDestroy(data);
        return nullptr;
    }
    if (!certificate.empty() && xmlSecCryptoAppKeyCertLoadMemory(key.get(), bytes_of(certificate),
                                                                 static_cast<xmlSecSize>(certificate.size()),
                                                                 xmlSecKeyDataFormatDer) < 0)
        return nullptr;
    return key;
}

// <ds:Signature> over the whole document, still empty.
xmlNodePtr lay_out(xmlDoc* document, bool by_curve) {
    const xmlSecTransformId method = by_curve ? xmlSecTransformEcdsaSha256Id : xmlSecTransformRsaSha256Id;
    xmlNodePtr signature = xmlSecTmplSignatureCreateNsPref(document, xmlSecTransformExclC14NId, method,
                                                           nullptr, xml_bytes("ds"));
    if (signature == nullptr) return nullptr;
    xmlAddChild(xmlDocGetRootElement(document), signature);
    xmlNodePtr reference =
        xmlSecTmplSignatureAddReference(signature, xmlSecTransformSha256Id, nullptr, xml_bytes(""), nullptr);
    if (reference == nullptr ||
        xmlSecTmplReferenceAddTransform(reference, xmlSecTransformEnvelopedId) == nullptr ||
        xmlSecTmplReferenceAddTransform(reference, xmlSecTransformExclC14NId) == nullptr)
        return nullptr;
    xmlNodePtr info = xmlSecTmplSignatureEnsureKeyInfo(signature, nullptr);
    xmlNodePtr data = info != nullptr ? xmlSecTmplKeyInfoAddX509Data(info) : nullptr;
    if (data == nullptr || xmlSecTmplX509DataAddCertificate(data) == nullptr) return nullptr;
    return signature;
}

}  // namespace

Result<std::string> sign_xml(std::string_view xml, const X509Key& key) {
    const Document document = started() ? parsed(xml) : nullptr;
    if (!document) return Fault{FaultCode::damaged, "what is to be signed is not XML", "certificate", ""};
    const X509Key::Impl& impl = key.impl();
    const bool by_curve = EVP_PKEY_get_base_id(impl.key.get()) == EVP_PKEY_EC;
    xmlNodePtr signature = lay_out(document.get(), by_curve);
    const Context context(xmlSecDSigCtxCreate(nullptr));
    Key signer = key_of(impl.key.get(), der_of(impl.certificate.get(), i2d_X509));
    const bool ready = signature != nullptr && context && signer;
    if (ready) context->signKey = signer.release();  // the context owns it
    if (!ready || xmlSecDSigCtxSign(context.get(), signature) < 0 ||
        context->status != xmlSecDSigStatusSucceeded)
        return Fault{FaultCode::bad_value, "the XML cannot be signed: " + openssl_reason(),
                     impl.facts.subject, ""};
    xmlChar* bytes = nullptr;
    int size = 0;
    xmlDocDumpMemoryEnc(document.get(), &bytes, &size, "UTF-8");
    std::string out(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(size));
    xmlFree(bytes);
    return out;
}

Result<CertificateFacts> check_xml_signature(std::string_view xml, const std::string& name) {
    const auto changed = [&](const std::string& what) {
        return Fault{FaultCode::damaged, what, name, "do not rely on this file; ask the laboratory"};
    };
    const Document document = started() ? parsed(xml) : nullptr;
    if (!document) return changed("it is no XML");
    xmlNodePtr root = xmlDocGetRootElement(document.get());
    xmlNodePtr signature =
        root != nullptr ? xmlSecFindChild(root, xmlSecNodeSignature, xmlSecDSigNs) : nullptr;
    if (signature == nullptr)
        return Fault{FaultCode::missing_field, "there is no XML signature in it", name, ""};
    xmlNodePtr held = xmlSecFindNode(signature, xmlSecNodeX509Certificate, xmlSecDSigNs);
    xmlChar* text = held != nullptr ? xmlNodeGetContent(held) : nullptr;
    const auto der = from_base64(text != nullptr ? reinterpret_cast<const char*>(text) : "");
    xmlFree(text);
    const unsigned char* at = der ? bytes_of(*der) : nullptr;
    const Certificate certificate(der ? d2i_X509(nullptr, &at, static_cast<long>(der->size())) : nullptr);
    EVP_PKEY* pkey = certificate ? X509_get0_pubkey(certificate.get()) : nullptr;
    if (pkey == nullptr) return changed("the certificate inside the XML signature cannot be read");
    const Context context(xmlSecDSigCtxCreate(nullptr));
    Key key = key_of(pkey, "");
    if (!context || !key) return changed("the XML signature cannot be checked");
    context->signKey = key.release();
    // Only what is in the document itself may be fetched, and all of it is to be covered.
    context->enabledReferenceUris = xmlSecTransformUriTypeEmpty;
    if (xmlSecDSigCtxVerify(context.get(), signature) < 0 || context->status != xmlSecDSigStatusSucceeded)
        return changed("the XML signature does not fit: the file was changed after it was signed");
    return facts_of(certificate.get());
}

}  // namespace tipwright::seal
