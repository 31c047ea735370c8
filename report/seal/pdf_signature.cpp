#include "report/seal/pdf_signature.hpp"

#include <charconv>
#include <cstring>

#include "calib/base/dates.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::seal {
namespace {

struct Gap {  // "<...>" of /Contents
    std::size_t from = 0;
    std::size_t bytes = 0;
    std::size_t end() const { return from + bytes; }
};

std::string statement(const FileSeal& seal, const Gap& gap, const std::string& fingerprint) {
    return "tipwright-file-seal 1.0 number " + seal.number + " on " + seal.issued_on + " size " +
           std::to_string(seal.size) + " but " + std::to_string(gap.from) + " " + std::to_string(gap.bytes) +
           " sha256 " + seal.sha256 + " x509 " + fingerprint + " key " + seal.key_id;
}

std::string line_of(const std::string& said, const SignatureBytes& signature) {
    return "%" + said + " signature " + to_hex(signature) + "\n";
}

std::string digest_without(std::string_view body, const Gap& gap) {
    Sha256 digest;
    digest.add(body.substr(0, gap.from));
    digest.add(body.substr(gap.end()));
    return to_hex(digest.bytes());
}

// The one stretch of `text`, or npos when there is none or more than one.
std::size_t only_place(const std::string& text, const std::string& what) {
    const std::size_t at = text.find(what);
    return at != std::string::npos && text.find(what, at + 1) == std::string::npos ? at : std::string::npos;
}

bool read_size(const std::string& text, std::size_t& out) {
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
    return error == std::errc{} && end == text.data() + text.size();
}

}  // namespace

Result<std::string> seal_signed_pdf(std::string_view pdf, const std::string& number,
                                    const std::string& issued_on, const SigningKey& key,
                                    const X509Key& signer) {
    const Fault no_place{FaultCode::damaged, "the PDF has no place for the X.509 signature",
                         "certificate " + number, ""};
    if (!is_certificate_number(number) || !is_iso_date(issued_on)) return no_place;
    std::string out(pdf);
    if (out.empty() || out.back() != '\n') out.push_back('\n');

    const std::string zeros(2 * signer.cms_size(), '0');
    const std::size_t contents = only_place(out, "<" + zeros + ">");
    std::string range;
    for (const long long place : byte_range_places)
        range += (range.empty() ? "" : " ") + std::to_string(place);
    const std::size_t range_at = only_place(out, range);
    if (contents == std::string::npos || range_at == std::string::npos) return no_place;
    const Gap gap{contents, zeros.size() + 2};

    FileSeal seal{FileKind::pdf,       number,    out.size(), std::string(64, '0'),
                  key.public_key().id, issued_on, {}};
    const std::string& fingerprint = signer.facts().fingerprint;
    const std::size_t line_size = line_of(statement(seal, gap, fingerprint), {}).size();
    std::string covered = std::to_string(gap.from) + " " + std::to_string(gap.end()) + " " +
                          std::to_string(out.size() + line_size - gap.end());
    covered.resize(range.size(), ' ');
    out.replace(range_at, range.size(), covered);

    seal.sha256 = digest_without(out, gap);
    const std::string said = statement(seal, gap, fingerprint);
    out += line_of(said, key.sign(said));
    const std::string_view all(out);
    const auto cms = signer.sign_cms(all.substr(0, gap.from), all.substr(gap.end()));
    if (!cms) return cms.fault();
    if (2 * cms->size() != zeros.size()) return no_place;
    out.replace(gap.from + 1, zeros.size(), to_hex(*cms));
    return out;
}

Result<FileSeal> check_signed_pdf(std::string_view body, std::string_view last,
                                  const std::vector<std::string>& words, const PublicKeys& keys,
                                  const std::string& name) {
    const auto changed = [&](const std::string& what) {
        return Fault{FaultCode::damaged, what, name, "do not rely on this file; ask the laboratory"};
    };
    FileSeal seal;
    Gap gap;
    SignatureBytes signature{};
    const bool whole = words.size() == 19 && is_iso_date(words[5]) && read_size(words[7], seal.size) &&
                       read_size(words[9], gap.from) && read_size(words[10], gap.bytes);
    const auto bytes = whole ? from_hex(words[18]) : std::nullopt;
    if (!whole || !bytes || bytes->size() != signature.size())
        return changed("the seal in the file's last line was changed");
    std::memcpy(signature.data(), bytes->data(), bytes->size());
    seal.kind = FileKind::pdf;
    seal.number = words[3];
    seal.issued_on = words[5];
    seal.sha256 = words[12];
    seal.key_id = words[16];
    const std::string said = statement(seal, gap, words[14]);
    // Written again from what was read it must be the same to the letter.
    if (last != line_of(said, signature)) return changed("the seal in the file's last line was changed");
    const PublicKey* key = keys.find(seal.key_id);
    if (key == nullptr)
        return Fault{
            FaultCode::unknown_field,
            "sealed with key " + in_quotes(seal.key_id) + ", which is not among the public keys given", name,
            "ask the laboratory for its present list of public keys"};
    if (!verify(*key, said, signature))
        return changed("the signature does not fit: the seal was changed or made up");
    if (seal.size != body.size() || gap.bytes < 2 || gap.from > body.size() ||
        gap.bytes > body.size() - gap.from || seal.sha256 != digest_without(body, gap))
        return changed("the file was changed after it was sealed");
    const std::string_view contents = body.substr(gap.from, gap.bytes);
    const auto der = from_hex(contents.substr(1, contents.size() - 2));
    if (contents.front() != '<' || contents.back() != '>' || !der)
        return changed("the X.509 signature was changed");
    const std::string rest = std::string(body.substr(gap.end())) + std::string(last);
    const auto facts = check_cms(*der, body.substr(0, gap.from), rest, words[14], name);
    if (!facts) return facts.fault();
    if (Outcome in_use = check_in_use(*key, seal.issued_on, name); !in_use) return in_use.fault();
    seal.signed_by = *facts;
    return seal;
}

}  // namespace tipwright::seal
