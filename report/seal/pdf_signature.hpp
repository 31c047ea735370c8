// A PDF with both: the laboratory's X.509 signature, which any PDF reader checks, and the Ed25519 seal.
// The drawer leaves a place (signature dictionary of ETSI EN 319 142-1 with zeros for /Contents and
// placeholders for /ByteRange). The seal stands in the last line and covers every byte before it but that
// place, and names the certificate's fingerprint; the CMS signature then fills the place and covers all the
// rest of the file, the seal's line too. So each vouches for the other, and no byte is left out.
//   %tipwright-file-seal 1.0 number NO on DATE size N but FROM BYTES sha256 HEX x509 HEX key ID signature HEX
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "report/seal/pdf_place.hpp"
#include "report/seal/seal.hpp"

namespace tipwright::seal {

// Fault damaged: the PDF has no such place, or one of another size than `signer` needs.
Result<std::string> seal_signed_pdf(std::string_view pdf, const std::string& number,
                                    const std::string& issued_on, const SigningKey& key,
                                    const X509Key& signer);

// Part of check_file(): `body` all but the last line, `last` that line, `words` those within.
Result<FileSeal> check_signed_pdf(std::string_view body, std::string_view last,
                                  const std::vector<std::string>& words, const PublicKeys& keys,
                                  const std::string& name);

}  // namespace tipwright::seal
