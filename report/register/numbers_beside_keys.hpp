// The note beside the keys of which numbers were given (issued_numbers.hpp), for whoever makes and changes
// the keys. `path`: of the note; `day`: ISO date.
#pragma once

#include <memory>
#include <string>

#include "calib/base/fault.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::report {

// The first note, of no numbers, made with the first key. What is there already is left as it is.
Outcome begin_numbers(const std::string& path, const seal::SigningKey& key, const std::string& day);

// The note as it stands, held from others until this is gone: read before the keys change, and signed with
// the new key after it.
class NumbersBesideKeys {
public:
    // Fault: file_missing, damaged, inconsistent.
    static Result<NumbersBesideKeys> read(const std::string& path);
    NumbersBesideKeys(NumbersBesideKeys&&) noexcept;
    ~NumbersBesideKeys();
    Outcome sign(const seal::SigningKey& key, const std::string& day) const;

private:
    struct Impl;
    explicit NumbersBesideKeys(std::unique_ptr<Impl> impl);
    std::unique_ptr<Impl> impl_;
};

}  // namespace tipwright::report
