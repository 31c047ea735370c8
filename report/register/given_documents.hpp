// The documents of a certificate as they are given out: what they must be, how they are sealed and signed.
#pragma once

#include <optional>

#include "report/register/entries.hpp"
#include "report/seal/keys.hpp"
#include "report/seal/x509.hpp"

namespace tipwright::report {

// Faults: missing_field (no PDF), bad_value (names or number of the others).
std::optional<Fault> unfit(const Documents& documents);

// PDF first, for the XML may carry it; each is signed where there is a signer, and sealed.
Outcome seal_documents(Documents& documents, const IssueSheet& sheet, const seal::SigningKey& key,
                       const seal::X509Key* signer);

}  // namespace tipwright::report
