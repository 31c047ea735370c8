// What sealed files say of the certificate whose number they bear, held against one another: whatever each
// seal says, the laboratory gave one certificate of a number. A PDF carries its record, an XML the PDF, a
// seal the record's fingerprint; a text carries neither, and belongs to them when it follows from their
// record.
#pragma once

#include <functional>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bench/program/register/earlier.hpp"
#include "report/record/record.hpp"
#include "report/seal/seal.hpp"

namespace tipwright::program {

class SameNumber {
public:
    // A sealed file as the register may hold it; of a seal by itself the record's fingerprint.
    struct Document {
        std::string name;
        std::string number;
        std::string sha256;
        bool is_seal = false;
    };
    struct Text {
        std::string name;
        std::string number;
        std::string bytes;
        bool in_pack = false;
    };
    // The records inside an XML, or inside the PDF of a pack, which are given nowhere else.
    struct Carried {
        std::string name;
        report::Record record;
        std::string text;
        bool in_pack = false;
    };

    // A sealed file says that its certificate replaces or amends another.
    struct Supersedes {
        std::string name;
        std::string number;
        Earlier earlier;
    };

    // The words by which a page says so.
    void know_words(std::vector<EarlierPhrase> phrases) { phrases_ = std::move(phrases); }
    // Files whose seals were found whole. Fault: what an XML carries is not the PDF of its certificate.
    Outcome file(const std::string& name, std::string_view bytes, const seal::FileSeal& seal,
                 const seal::PublicKeys& keys, bool in_pack);
    void seal(const std::string& name, const seal::Seal& seal);
    // A text was found to follow from a record of its number.
    void belongs(const std::string& name) { tied_.insert(name); }

    // Told of each file that is of another certificate than one before it.
    void tell_twice(const std::function<void(const std::string& name, const std::string& text)>& tell) const;
    // "formula.txt bears the number B1-2026-00001 ...", of what nothing ties to the rest of its number; not
    // counting those that stand in `held`, of which a register has the digest.
    std::vector<std::string> not_tied(const std::set<std::string>& held) const;

    const std::vector<Document>& documents() const { return documents_; }
    const std::vector<Text>& texts() const { return texts_; }
    const std::vector<Carried>& carried() const { return carried_; }
    const std::vector<Supersedes>& supersedes() const { return supersedes_; }

private:
    // Two that differ cannot both be right.
    struct Claim {
        std::string number;
        std::string of;  // "PDF", "record", ...
        std::string digest;
        std::string name;
    };
    void pdf(const std::string& name, std::string_view bytes, const seal::FileSeal& seal, bool given,
             bool in_pack);

    void supersede(const std::string& name, const std::string& number, std::optional<Earlier> earlier);

    std::vector<EarlierPhrase> phrases_;
    std::vector<Supersedes> supersedes_;
    std::vector<Claim> claims_;
    std::vector<Document> documents_;
    std::vector<Text> texts_;
    std::vector<Carried> carried_;
    std::set<std::string> tied_;  // to a record
};

}  // namespace tipwright::program
