// Seals of files that `verify` was given: each file's own seal, and the seals of records, matched by number.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "report/record/record.hpp"
#include "report/seal/seal.hpp"

namespace tipwright::program {

class SealCheck {
public:
    // Told of each finding: the file, whether all is well, what was found.
    using Tell = std::function<void(const std::string& file, bool ok, const std::string& text)>;

    // `must`: what carries no seal is wrong, drafts too.
    SealCheck(const seal::PublicKeys* keys, bool must, Tell tell)
        : keys_(keys), must_(must), tell_(std::move(tell)) {}

    // A file with its own seal as last line. `number`: of the record it carries; empty: unknown.
    // Fault: missing_field when it has a seal and there are no keys.
    Outcome file(const std::string& name, std::string_view bytes, const std::string& number);
    // The canonical text of a record; `within`: attached to a certificate.
    void record(const std::string& name, const report::Record& record, const std::string& text, bool within);
    Outcome seal(const std::string& name, const seal::Seal& seal);
    // Matches seals with records. Fault: missing_field when there is a sealed record and there are no keys.
    Outcome finish();

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
    };
    void match(const Given& given);
    void key_in_use(const Held& held, const std::string& key_id);

    const seal::PublicKeys* keys_;
    bool must_;
    Tell tell_;
    std::vector<Held> records_;
    std::vector<Given> seals_;
    std::vector<std::pair<std::string, std::string>> sealed_files_;  // name, number
};

}  // namespace tipwright::program
