#include "report/register/maintenance.hpp"

#include <algorithm>
#include <cstring>

#include "report/register/page_rows.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

std::array<char, 16> short_name(const std::string& sha256) {
    std::array<char, 16> out{};
    if (const auto bytes = seal::from_hex(sha256); bytes && bytes->size() >= out.size())
        std::memcpy(out.data(), bytes->data(), out.size());
    return out;
}

}  // namespace

NamedDocuments::NamedDocuments(Database& database) {
    each_named_document(database, [&](const std::string& sha256) { names_.push_back(short_name(sha256)); });
    std::sort(names_.begin(), names_.end());
}

bool NamedDocuments::has(const std::string& sha256) const {
    return std::binary_search(names_.begin(), names_.end(), short_name(sha256));
}

void each_named_document(Database& database, const std::function<void(const std::string&)>& take) {
    const auto walk = [&](const std::string& sql, const std::string& types) {
        for (std::int64_t after = 0;;) {
            std::int64_t rows = 0;
            database.each(sql + " ORDER BY id LIMIT :p2", types, {after, page_rows}, [&](const Row& row) {
                after = row.integer(0);
                ++rows;
                for (std::size_t i = 1; i < row.cells.size(); ++i)
                    if (!row.null(i)) take(digest_of(row.text(i)));
            });
            if (rows < page_rows) return;
        }
    };
    walk("SELECT id, sha256 FROM records WHERE id > :p1", "it");
    walk(
        "SELECT id, as_left_sha256, as_found_sha256, pdf_sha256, xml_sha256 FROM certificates WHERE id > :p1",
        "itttt");
    database.each("SELECT sha256 FROM certificate_documents ORDER BY certificate_id, name", "t", {},
                  [&](const Row& row) { take(digest_of(row.text(0))); });
}

}  // namespace tipwright::report
