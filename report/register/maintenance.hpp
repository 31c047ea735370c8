// What inspecting, tidying, backing up and restoring share. Private to report/register.
#pragma once

#include <array>
#include <functional>
#include <string>
#include <vector>

#include "report/register/impl.hpp"

namespace tipwright::report {

// Names of all documents that a row names. Held as their first 16 bytes: a million certificates name
// millions.
class NamedDocuments {
public:
    explicit NamedDocuments(Database& database);
    bool has(const std::string& sha256) const;

private:
    std::vector<std::array<char, 16>> names_;  // sorted
};

// Every name once a row that names it, in pages.
void each_named_document(Database& database, const std::function<void(const std::string& sha256)>& take);

}  // namespace tipwright::report
