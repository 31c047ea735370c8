// XML signature (W3C XML Signature 1.1, enveloped, exclusive canonical form, SHA-256) by the laboratory's
// X.509 key, with its certificate inside; by xmlsec. It stands as last child of the root element, where the
// DCC has its place.
#pragma once

#include <string>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/seal/x509.hpp"

namespace tipwright::seal {

// On any number of threads at once. Fault damaged: no XML; bad_value: the key cannot sign.
Result<std::string> sign_xml(std::string_view xml, const X509Key& key);

// Checks the one signature of `xml` by the certificate inside it. Fault: missing_field (none), damaged.
Result<CertificateFacts> check_xml_signature(std::string_view xml, const std::string& name);

}  // namespace tipwright::seal
