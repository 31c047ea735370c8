// Seals of files that `verify` was given: each file's own seal, and the seals of records, matched by number.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "bench/program/register/same_number.hpp"
#include "report/record/record.hpp"
#include "report/seal/seal.hpp"

namespace tipwright::program {

inline constexpr std::size_t longest_seal_text = 65536;  // the codes of a scan together

class SealCheck {
public:
    // Told of each finding: the file, whether all is well, what was found.
    using Tell = std::function<void(const std::string& file, bool ok, const std::string& text)>;

    // `must`: what carries no seal is wrong, drafts too. `today`: ISO date; no seal is of a later day.
    SealCheck(const seal::PublicKeys* keys, bool must, std::string today, Tell tell)
        : keys_(keys), must_(must), today_(std::move(today)), tell_(std::move(tell)) {}

    // What a seal was found to prove.
    struct Proven {
        std::string number;
        std::string key_id;
        std::string issued_on;  // empty: nothing tells
        std::string name;       // of the file
        // Others may have the key since that day, and can date back whatever they seal; empty: nobody has.
        std::string revoked_from;
    };

    // A file with its own seal as last line. `number` and `issued_on`: of the record it carries; empty:
    // unknown. Fault: missing_field when it has a seal and there are no keys.
    Outcome file(const std::string& name, std::string_view bytes, const std::string& number,
                 const std::string& issued_on = {});
    // The canonical text of a record; `within`: attached to a certificate.
    void record(const std::string& name, const report::Record& record, const std::string& text, bool within);
    Outcome seal(const std::string& name, const seal::Seal& seal);
    // A seal's own file, or the codes of a scan as a reader hands them over, one a line: each of them counts.
    Outcome text(const std::string& name, const std::string& text);
    // Matches seals with records. Fault: missing_field when there is a sealed record and there are no keys.
    Outcome finish();
    const std::vector<Proven>& proven() const { return proven_; }
    // The same of the files of packs.
    const std::vector<Proven>& proven_in_packs() const { return in_packs_; }
    // A file of a pack, judged with the pack: what it says of its number is held against the rest.
    void in_pack(const std::string& name, std::string_view bytes, bool is_seal);
    const SameNumber& numbers() const { return numbers_; }
    void know_words(std::vector<EarlierPhrase> phrases) { numbers_.know_words(std::move(phrases)); }
    // A text was found to follow from a record of its number.
    void belongs(const std::string& name) { numbers_.belongs(name); }
    // A whole seal stands for this file, or for the record in it; asked after finish().
    bool vouches_for(const std::string& name) const;
    // This file's own seal is whole.
    bool bears_seal(const std::string& name) const;

private:
    struct Held {
        std::string name;
        std::string number;
        report::State state{};
        std::string issued_on;
        std::string text;
        bool within = false;
        bool sealed = false;
    };
    struct Given {
        std::string name;
        seal::Seal seal;
        bool dated = false;  // by itself, or by a record that fits it
        bool lone = false;   // no record of its number was given
    };
    void match(Given& given);
    Proven proof_of(const std::string& name, const std::string& number, const std::string& key_id,
                    const std::string& issued_on) const;
    // A seal of a day that has not come; told.
    bool is_of_the_future(const std::string& name, const std::string& issued_on);
    void tell_strangers();
    void key_in_use(const Held& held, const seal::Seal& seal);
    void tell_lent();

    const seal::PublicKeys* keys_;
    bool must_;
    std::string today_;
    Tell tell_;
    std::vector<Held> records_;
    std::vector<Given> seals_;
    std::vector<std::pair<std::string, std::string>> sealed_files_;  // name, number
    std::vector<Proven> proven_;
    std::vector<Proven> in_packs_;
    SameNumber numbers_;
};

}  // namespace tipwright::program
