#include "bench/program/register/same_number.hpp"

#include <algorithm>
#include <map>

#include "bench/program/register/between.hpp"
#include "calib/base/joined.hpp"
#include "report/files/fingerprint.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::program {

namespace {

constexpr std::size_t most_named = 3;

// "correction" of "# tipwright correction 1.1: ..."; of any other text "formula".
std::string kind_of_text(std::string_view bytes) {
    constexpr std::string_view first = "# tipwright ";
    if (!bytes.starts_with(first)) return "formula";
    bytes.remove_prefix(first.size());
    return std::string(bytes.substr(0, bytes.find_first_of(" \n")));
}

}  // namespace

void SameNumber::pdf(const std::string& name, std::string_view bytes, const seal::FileSeal& seal, bool given,
                     bool in_pack) {
    claims_.push_back({seal.number, "PDF", seal.sha256, name});
    const auto record = report::read_attached_record(bytes, name);
    if (!record) return;
    const auto found = report::read_attachment(bytes, name, std::string(report::attached_as_found_name));
    claims_.push_back(
        {seal.number, "record", seal::fingerprint_of(*record, found ? *found : std::string()), name});
    tied_.insert(name);
    if (given) return;
    for (const auto* text : {&record, &found}) {
        if (!*text) continue;
        auto read = report::record_from_json(**text, name);
        if (read) carried_.push_back({name, std::move(*read), **text, in_pack});
    }
}

Outcome SameNumber::file(const std::string& name, std::string_view bytes, const seal::FileSeal& seal,
                         const seal::PublicKeys& keys, bool in_pack) {
    documents_.push_back({name, seal.number, report::sha256_hex(bytes)});
    switch (seal.kind) {
        case seal::FileKind::pdf:
            supersede(name, seal.number, earlier_in_pdf(bytes, name, phrases_));
            pdf(name, bytes, seal, !in_pack, in_pack);
            return Done{};
        case seal::FileKind::text:
            claims_.push_back({seal.number, kind_of_text(bytes), seal.sha256, name});
            texts_.push_back({name, seal.number, std::string(bytes.substr(0, seal.size)), in_pack});
            return Done{};
        case seal::FileKind::xml:
            break;
    }
    claims_.push_back({seal.number, "XML", seal.sha256, name});
    supersede(name, seal.number, earlier_in_xml(bytes));
    const auto inside = seal::from_base64(between(bytes, "<dcc:dataBase64>", "<"));
    if (!inside || !inside->starts_with("%PDF-")) return Done{};
    const auto sealed = seal::check_file(*inside, keys, name);
    if (!sealed) return Fault{sealed.fault().code, "the PDF inside it: " + sealed.fault().what, name, ""};
    if (sealed->number != seal.number)
        return Fault{FaultCode::inconsistent, "the PDF inside it is of certificate " + sealed->number, name,
                     ""};
    pdf(name, *inside, *sealed, false, in_pack);
    return Done{};
}

void SameNumber::supersede(const std::string& name, const std::string& number,
                           std::optional<Earlier> earlier) {
    if (earlier && earlier->number != number) supersedes_.push_back({name, number, std::move(*earlier)});
}

void SameNumber::seal(const std::string& name, const seal::Seal& seal) {
    documents_.push_back({name, seal.number, seal.fingerprint, true});
    claims_.push_back({seal.number, "record", seal.fingerprint, name});
    tied_.insert(name);
}

void SameNumber::tell_twice(
    const std::function<void(const std::string& name, const std::string& text)>& tell) const {
    std::map<std::pair<std::string, std::string>, const Claim*> first;
    std::set<std::string> told;
    for (const Claim& claim : claims_) {
        const auto [before, added] = first.emplace(std::pair{claim.number, claim.of}, &claim);
        if (added || before->second->digest == claim.digest || !told.insert(claim.name).second) continue;
        tell(claim.name, "bears the number " + claim.number + " as " + before->second->name +
                             " does, and is another certificate: ask the laboratory which one it issued");
    }
}

std::vector<std::string> SameNumber::not_tied(const std::set<std::string>& held) const {
    std::map<std::string, std::set<std::string>> by_number;
    for (const Document& document : documents_) by_number[document.number].insert(document.name);
    std::vector<std::string> out;
    for (const auto& [number, names] : by_number) {
        std::vector<std::string> loose;
        for (const std::string& name : names)
            if (!tied_.contains(name) && !held.contains(name)) loose.push_back(name);
        if (loose.empty() || names.size() < 2) continue;
        std::string text = "that files of the same number " + number + " belong together: nothing ties ";
        text += joined(std::span(loose).first(std::min(loose.size(), most_named)), ", ");
        if (loose.size() > most_named) text += " and " + std::to_string(loose.size() - most_named) + " more";
        out.push_back(text + " to the others");
    }
    return out;
}

}  // namespace tipwright::program
