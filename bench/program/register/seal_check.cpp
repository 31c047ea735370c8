#include "bench/program/register/seal_check.hpp"

#include "calib/base/dates.hpp"

#include <algorithm>
#include <sstream>

#include "report/pack/pack.hpp"
#include "report/seal/lines.hpp"

#include "report/seal/xml_signature.hpp"

namespace tipwright::program {

namespace {

constexpr std::string_view draft_number = "DRAFT";

Fault no_keys(const std::string& name) {
    return {FaultCode::missing_field, "it is sealed, and there are no public keys to check the seal with",
            name, "give the laboratory's list with --public-keys"};
}

// The date of issue that a DCC tells.
std::string issue_date_of(std::string_view xml) {
    constexpr std::string_view open = "<dcc:issueDate>";
    const std::size_t at = xml.find(open);
    if (at == std::string_view::npos || xml.size() - at - open.size() < 10) return "";
    const std::string_view day = xml.substr(at + open.size(), 10);
    return is_iso_date(day) ? std::string(day) : "";
}

}  // namespace

Outcome SealCheck::file(const std::string& name, std::string_view bytes, const std::string& number,
                        const std::string& issued_on) {
    const bool draft = number == draft_number;
    if (keys_ == nullptr) {
        if (!number.empty() && !draft) return no_keys(name);
        static const seal::PublicKeys none;
        const auto looked = seal::check_file(bytes, none, name);
        if (!looked && looked.fault().code != FaultCode::missing_field) return no_keys(name);
        return Done{};
    }
    const std::string told_on = issued_on.empty() ? issue_date_of(bytes) : issued_on;
    const auto seal = seal::check_file(bytes, *keys_, name);
    if (!seal) {
        if (draft && seal.fault().code == FaultCode::missing_field) {
            tell_(name, !must_, must_ ? "is a draft: it has no seal" : "is a draft, not sealed");
            return Done{};
        }
        tell_(name, false, seal.fault().what);
        return Done{};
    }
    if (!number.empty() && seal->number != number) {
        tell_(name, false, "is sealed as certificate " + seal->number + ", its record says " + number);
        return Done{};
    }
    if (!told_on.empty() && seal->issued_on != told_on) {
        tell_(name, false, "is sealed as issued on " + seal->issued_on + ", it says " + told_on);
        return Done{};
    }
    if (is_of_the_future(name, seal->issued_on)) return Done{};
    if (seal->number == report::pack::list_number) {
        tell_(name, false, "is the list of a pack's contents, which says nothing by itself: give the pack");
        return Done{};
    }
    sealed_files_.emplace_back(name, seal->number);
    proven_.push_back(proof_of(name, seal->number, seal->key_id, seal->issued_on));
    tell_(name, true,
          "every byte is as sealed for certificate " + seal->number + " on " + seal->issued_on +
              " with key " + seal->key_id);
    if (seal->signed_by)
        tell_(name, true,
              "X.509 signature by " + seal->signed_by->subject +
                  ", the certificate that the seal names (SHA-256 " +
                  seal->signed_by->fingerprint.substr(0, 16) + "...)");
    if (seal->kind == seal::FileKind::xml) {
        const auto signer = seal::check_xml_signature(bytes, name);
        if (signer)
            tell_(name, true, "XML signature by " + signer->subject);
        else if (signer.fault().code != FaultCode::missing_field)
            tell_(name, false, signer.fault().what);
    }
    const std::size_t known = numbers_.carried().size();
    if (const Outcome whole = numbers_.file(name, bytes, *seal, *keys_, false); !whole)
        tell_(name, false, whole.fault().what);
    for (std::size_t i = known; i < numbers_.carried().size(); ++i)
        record(name, numbers_.carried()[i].record, numbers_.carried()[i].text, true);
    return Done{};
}

void SealCheck::in_pack(const std::string& name, std::string_view bytes, bool is_seal) {
    if (is_seal) {
        const auto seal = seal::seal_from_text(bytes, name);
        if (!seal || !seal::check_seal(*seal, *keys_) || is_of_the_future(name, seal->issued_on)) return;
        numbers_.seal(name, *seal);
        in_packs_.push_back(proof_of(name, seal->number, seal->key_id, seal->issued_on));
        return;
    }
    const auto seal = seal::check_file(bytes, *keys_, name);
    if (!seal) return;  // told with the pack, or a file that bears none
    if (is_of_the_future(name, seal->issued_on)) return;
    in_packs_.push_back(proof_of(name, seal->number, seal->key_id, seal->issued_on));
    if (seal->number == report::pack::list_number) return;
    if (const Outcome whole = numbers_.file(name, bytes, *seal, *keys_, true); !whole)
        tell_(name, false, whole.fault().what);
}

void SealCheck::record(const std::string& name, const report::Record& record, const std::string& text,
                       bool within) {
    records_.push_back({name, record.number, record.state, record.issued_on, text, within, false});
}

Outcome SealCheck::seal(const std::string& name, const seal::Seal& seal) {
    if (keys_ == nullptr) return no_keys(name);
    const seal::PublicKey* key = keys_->find(seal.key_id);
    const auto good = seal::check_seal(seal, *keys_);
    if (!good) {
        tell_(name, false, good.fault().what);
        return Done{};
    }
    if (is_of_the_future(name, seal.issued_on)) return Done{};
    tell_(name, true,
          "seal of certificate " + seal.number + ", issued on " + seal.issued_on + ", record " +
              seal.fingerprint.substr(0, 16) + "..., by key " + seal.key_id + " " + seal::validity_of(*key));
    proven_.push_back(proof_of(name, seal.number, seal.key_id, seal.issued_on));
    numbers_.seal(name, seal);
    seals_.push_back({name, seal, !seal.issued_on.empty()});
    return Done{};
}

Outcome SealCheck::text(const std::string& name, const std::string& text) {
    if (text.size() > longest_seal_text) {
        tell_(name, false, "larger than the codes of a scan");
        return Done{};
    }
    const auto take = [&](const Result<seal::Seal>& read) {
        if (read) return seal(name, *read);
        tell_(name, false, read.fault().what);
        return Outcome(Done{});
    };
    if (text.starts_with("tipwright seal ")) return take(seal::seal_from_text(text, name));
    // A page of another certificate among them must not hide.
    int seals = 0;
    std::string other;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        if (line.starts_with("QR-Code:")) line.erase(0, 8);
        if (line.find_first_not_of(" \t\r") == std::string::npos) continue;
        if (!line.starts_with("TIPWRIGHT")) {
            other = line;
            continue;
        }
        ++seals;
        if (auto taken = take(seal::seal_from_qr_text(line)); !taken) return taken;
    }
    if (seals == 0)
        tell_(name, false,
              other.empty() ? "holds no code" : "not the text of a tipwright seal: " + in_quotes(other));
    else if (!other.empty())
        tell_(name, true,
              "another code among them is not the laboratory's and was not judged: " + in_quotes(other));
    return Done{};
}

void SealCheck::key_in_use(const Held& held, const seal::Seal& seal) {
    if (!seal.issued_on.empty() && held.issued_on != seal.issued_on)
        tell_(held.name, false,
              "says it was issued on " + held.issued_on + ", its seal says " + seal.issued_on);
    const auto in_use = seal::check_in_use(*keys_->find(seal.key_id), held.issued_on, held.name);
    if (!in_use)
        tell_(held.name, false, in_use.fault().what);
    else if (seal.issued_on.empty())
        proven_.push_back(proof_of(held.name, seal.number, seal.key_id, held.issued_on));
}

// As left and as found of one certificate are sealed together.
void SealCheck::match(Given& given) {
    std::vector<Held*> left;
    std::vector<Held*> found;
    for (Held& held : records_) {
        if (held.number != given.seal.number) continue;
        (held.state == report::State::as_left ? left : found).push_back(&held);
    }
    if (left.empty() && found.empty()) {
        given.lone = true;
        return;
    }
    const auto fits = [&](const std::string& first, const std::string& second) {
        return seal::fingerprint_of(first, second) == given.seal.fingerprint;
    };
    bool any = false;
    const auto take = [&](Held& held) {
        held.sealed = true;
        any = true;
    };
    for (Held* first : left) {
        if (fits(first->text, "")) take(*first);
        for (Held* second : found)
            if (fits(first->text, second->text)) {
                take(*first);
                take(*second);
            }
    }
    for (Held* only : found)
        if (fits(only->text, "")) take(*only);
    // One seal may stand for two records: without the other nothing tells a changed one from half of a pair.
    const std::string half =
        left.empty() || found.empty()
            ? ", by itself; where the certificate shows the gauge as found and as left, both records are "
              "sealed together: give both, or the certificate"
            : "";
    for (const auto* held : {&left, &found})
        for (const Held* one : *held) {
            if (one->sealed) {
                tell_(one->name, true, "its record is the one sealed in " + given.name);
                key_in_use(*one, given.seal);
                given.dated = true;
            } else if (!any) {
                tell_(one->name, false, "its record is not the one sealed in " + given.name + half);
            }
        }
}

// A seal whose own record is not there says nothing of what lies beside it.
void SealCheck::tell_lent() {
    const auto lone = std::find_if(seals_.begin(), seals_.end(), [](const Given& one) { return one.lone; });
    if (lone == seals_.end()) return;
    for (const Held& held : records_)
        if (held.number == draft_number)
            tell_(held.name, false,
                  "bears no seal, and that of certificate " + lone->seal.number + " in " + lone->name +
                      " is another's: its record is not among these files");
}

// A code or a seal by itself, beside files of other certificates and none of its own: whoever scanned it from
// a page holds the page of another certificate.
void SealCheck::tell_strangers() {
    for (const Given& given : seals_) {
        if (!given.lone) continue;
        const SameNumber::Document* other = nullptr;
        bool own = false;
        for (const SameNumber::Document& document : numbers_.documents()) {
            if (document.is_seal) continue;
            own = own || document.number == given.seal.number;
            if (document.number != given.seal.number) other = &document;
        }
        if (own || other == nullptr) continue;
        tell_(given.name, false,
              "is the seal of certificate " + given.seal.number + ", and what was given with it, " +
                  other->name + ", is of certificate " + other->number + ": they do not belong together");
    }
}

SealCheck::Proven SealCheck::proof_of(const std::string& name, const std::string& number,
                                      const std::string& key_id, const std::string& issued_on) const {
    const seal::PublicKey* key = keys_->find(key_id);
    return {number, key_id, issued_on, name, key == nullptr ? "" : key->revoked_from};
}

bool SealCheck::is_of_the_future(const std::string& name, const std::string& issued_on) {
    if (issued_on.empty() || issued_on <= today_) return false;
    tell_(name, false,
          "is sealed as of " + issued_on + ", a day in the future: today is " + today_ +
              " by the clock of this computer");
    return true;
}

bool SealCheck::vouches_for(const std::string& name) const {
    return std::any_of(records_.begin(), records_.end(),
                       [&](const Held& held) { return held.name == name && held.sealed; }) ||
           bears_seal(name);
}

bool SealCheck::bears_seal(const std::string& name) const {
    return std::any_of(sealed_files_.begin(), sealed_files_.end(),
                       [&](const auto& file) { return file.first == name; });
}

Outcome SealCheck::finish() {
    for (Given& given : seals_) {
        match(given);
        if (given.dated) continue;
        const auto in_use = seal::check_in_use(*keys_->find(given.seal.key_id), "", given.name);
        if (!in_use)
            tell_(given.name, false, in_use.fault().what + "; " + in_use.fault().remedy);
        else
            proven_.push_back(proof_of(given.name, given.seal.number, given.seal.key_id, ""));
    }
    numbers_.tell_twice([&](const std::string& name, const std::string& text) { tell_(name, false, text); });
    tell_lent();
    tell_strangers();
    for (Held& held : records_) {
        if (held.within || held.sealed) continue;
        if (held.number == draft_number) {
            if (must_) tell_(held.name, false, "is a draft: it has no seal");
            continue;
        }
        if (keys_ == nullptr) return no_keys(held.name);
        // A certificate whose own seal is whole vouches for the record inside it.
        for (const Held& other : records_) {
            const bool vouched = other.within && other.text == held.text && bears_seal(other.name);
            if (vouched && !held.sealed) {
                held.sealed = true;
                tell_(held.name, true, "is the record inside the sealed certificate " + other.name);
            }
        }
        const bool told = std::any_of(seals_.begin(), seals_.end(),
                                      [&](const Given& given) { return given.seal.number == held.number; });
        if (!held.sealed && !told)
            tell_(
                held.name, false,
                "no seal of certificate " + held.number + " is given: add its seal.txt, code or certificate");
    }
    return Done{};
}

}  // namespace tipwright::program
