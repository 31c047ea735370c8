// DocumentStore: records, certificates and their attachments, each named by the SHA-256 of its bytes. A
// document is written once and never changed, so a backup copies only what it lacks. With SQLite they are
// files in a folder beside the database (which stays small, and the PDFs can be opened by hand); with
// PostgreSQL they are rows, since several workshops share the server and not a disk. Written and flushed
// before the transaction that names them commits. Private to report/register; failures are thrown as Stop.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "report/register/database.hpp"

namespace tipwright::report {

inline constexpr std::size_t max_document_bytes = std::size_t{64} << 20;

class DocumentStore {
public:
    virtual ~DocumentStore() = default;
    // Gives the name. Fault: file_too_large, disk_full, file_unwritable.
    virtual std::string put(std::string_view bytes) = 0;
    // Checked against its name. Fault: file_missing, damaged.
    virtual std::string get(const std::string& sha256) = 0;
    virtual bool has(const std::string& sha256) = 0;
    // Names of all documents, in no order that matters.
    virtual void each(const std::function<void(const std::string&)>& take) = 0;
    // Only for documents nothing names.
    virtual void remove(const std::string& sha256) = 0;
    // Removes what a crash left half-written. Only while nobody else writes.
    virtual void sweep() = 0;
};

std::unique_ptr<DocumentStore> folder_store(const std::string& folder);
std::unique_ptr<DocumentStore> table_store(Database& database);

}  // namespace tipwright::report
