#include "report/register/given_documents.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "report/seal/pdf_signature.hpp"
#include "report/seal/seal.hpp"
#include "report/seal/xml_signature.hpp"

namespace tipwright::report {

namespace {

constexpr std::size_t max_others = 20;

}  // namespace

std::optional<Fault> unfit(const Documents& documents) {
    if (documents.pdf.empty()) return Fault{FaultCode::missing_field, "no PDF was made", "certificate", ""};
    if (documents.others.size() > max_others)
        return Fault{FaultCode::bad_value, "more than " + std::to_string(max_others) + " attachments",
                     "certificate", ""};
    std::vector<std::string> names;
    for (const Attachment& other : documents.others) {
        const bool plain = !other.name.empty() && other.name.size() <= 100 && other.name.front() != '.' &&
                           other.name.find_first_of("/\\\n") == std::string::npos;
        if (!plain || std::find(names.begin(), names.end(), other.name) != names.end())
            return Fault{FaultCode::bad_value,
                         in_quotes(other.name) + " is not a name for an attachment, or given twice",
                         "certificate", ""};
        names.push_back(other.name);
    }
    return std::nullopt;
}

Outcome seal_documents(Documents& documents, const IssueSheet& sheet, const seal::SigningKey& key,
                       const seal::X509Key* signer) {
    if (signer == nullptr) {
        documents.pdf =
            seal::seal_file(seal::FileKind::pdf, documents.pdf, sheet.number, sheet.issued_on, key);
    } else {
        auto pdf = seal::seal_signed_pdf(documents.pdf, sheet.number, sheet.issued_on, key, *signer);
        if (!pdf) return pdf.fault();
        documents.pdf = std::move(*pdf);
    }
    if (documents.xml_with) {
        auto xml = documents.xml_with(documents.pdf);
        if (!xml) return xml.fault();
        documents.xml = std::move(*xml);
    }
    if (documents.xml.empty()) return Done{};
    if (signer != nullptr) {
        auto xml = seal::sign_xml(documents.xml, *signer);
        if (!xml) return xml.fault();
        documents.xml = std::move(*xml);
    }
    documents.xml = seal::seal_file(seal::FileKind::xml, documents.xml, sheet.number, sheet.issued_on, key);
    return Done{};
}

}  // namespace tipwright::report
