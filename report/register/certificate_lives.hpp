// How each certificate came about, as the log tells it: drafted, checked and issued by the persons that its
// row names, and nothing but what checking and issuing write changed in between. Made for an inspection: the
// log is taken entry by entry, then each issued certificate is asked for. Private to report/register.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <unordered_map>

#include "report/register/rows.hpp"

namespace tipwright::report {

// 16 bytes of the digest that a state is: a whole one for each of millions of rows is too much to hold.
using ShortState = std::array<char, 16>;
ShortState short_state(const std::string& state);

class CertificateLives {
public:
    void take(const AuditEntry& entry);
    // What the log lacks of a certificate that is issued.
    std::optional<std::string> lacking(Database& database, Id certificate) const;
    // Whoever checked it had logged in.
    bool checked_by_login(Id certificate) const;

private:
    struct Act {
        Id person = 0;  // 0: never done, or sent back since
        ShortState state{};
    };
    struct Life {
        Act drafted, checked;
        Id issued_by = 0;
        bool by_login = false;
    };
    Id person_of(const AuditEntry& entry) const;

    std::unordered_map<Id, Life> lives_;
    std::map<std::string, Id> people_;  // by the name they had then
};

}  // namespace tipwright::report
