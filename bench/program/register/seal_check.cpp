#include "bench/program/register/seal_check.hpp"

#include <algorithm>

namespace tipwright::program {

namespace {

constexpr std::string_view draft_number = "DRAFT";

Fault no_keys(const std::string& name) {
    return {FaultCode::missing_field, "it is sealed, and there are no public keys to check the seal with",
            name, "give the laboratory's list with --keys"};
}

}  // namespace

Outcome SealCheck::file(const std::string& name, std::string_view bytes, const std::string& number) {
    const bool draft = number == draft_number;
    if (keys_ == nullptr) {
        if (!number.empty() && !draft) return no_keys(name);
        static const seal::PublicKeys none;
        const auto looked = seal::check_file(bytes, none, name);
        if (!looked && looked.fault().code != FaultCode::missing_field) return no_keys(name);
        return Done{};
    }
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
    sealed_files_.emplace_back(name, seal->number);
    tell_(name, true,
          "every byte is as sealed for certificate " + seal->number + " with key " + seal->key_id);
    return Done{};
}

void SealCheck::record(const std::string& name, const report::Record& record, const std::string& text,
                       bool within) {
    records_.push_back({name, record.number, record.state, record.issued_on, text, within, false});
}

Outcome SealCheck::seal(const std::string& name, const seal::Seal& seal) {
    if (keys_ == nullptr) return no_keys(name);
    const auto good = seal::check_seal(seal, *keys_);
    if (!good) {
        tell_(name, false, good.fault().what);
        return Done{};
    }
    const seal::PublicKey* key = keys_->find(seal.key_id);
    tell_(name, true,
          "seal of certificate " + seal.number + ", record " + seal.fingerprint.substr(0, 16) +
              "..., by key " + seal.key_id + " made " + key->made_on +
              (key->retired_on.empty() ? "" : ", retired " + key->retired_on));
    seals_.push_back({name, seal});
    return Done{};
}

void SealCheck::key_in_use(const Held& held, const std::string& key_id) {
    const seal::PublicKey* key = keys_->find(key_id);
    if (held.issued_on < key->made_on || (!key->retired_on.empty() && held.issued_on > key->retired_on))
        tell_(held.name, false, "issued on " + held.issued_on + ", when key " + key_id + " was not in use");
}

// As left and as found of one certificate are sealed together.
void SealCheck::match(const Given& given) {
    std::vector<Held*> left;
    std::vector<Held*> found;
    for (Held& held : records_) {
        if (held.number != given.seal.number) continue;
        (held.state == report::State::as_left ? left : found).push_back(&held);
    }
    if (left.empty() && found.empty()) return;
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
    for (const auto* held : {&left, &found})
        for (const Held* one : *held) {
            if (one->sealed) {
                tell_(one->name, true, "its record is the one sealed in " + given.name);
                key_in_use(*one, given.seal.key_id);
            } else if (!any) {
                tell_(one->name, false, "its record is not the one sealed in " + given.name);
            }
        }
}

Outcome SealCheck::finish() {
    for (const Given& given : seals_) match(given);
    for (Held& held : records_) {
        if (held.within || held.sealed) continue;
        if (held.number == draft_number) {
            if (must_) tell_(held.name, false, "is a draft: it has no seal");
            continue;
        }
        if (keys_ == nullptr) return no_keys(held.name);
        // A certificate whose own seal is whole vouches for the record inside it.
        for (const Held& other : records_) {
            const bool vouched = other.within && other.text == held.text &&
                                 std::any_of(sealed_files_.begin(), sealed_files_.end(),
                                             [&](const auto& file) { return file.first == other.name; });
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
