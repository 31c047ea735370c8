#include "report/register/document_store.hpp"

#include <unistd.h>

#include <algorithm>
#include <filesystem>

#include "report/files/files.hpp"
#include "report/files/fingerprint.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

void check_size(std::string_view bytes) {
    if (bytes.size() > max_document_bytes)
        throw Stop{{FaultCode::file_too_large,
                    "a document has " + std::to_string(bytes.size()) + " bytes, at most " +
                        std::to_string(max_document_bytes) + " are kept",
                    "", ""}};
}

Fault damaged(const std::string& sha256) {
    return {FaultCode::damaged, "a stored document is not what was stored", "document " + sha256,
            "restore it from the last backup"};
}

bool is_name(const std::string& text) {
    return text.size() == 64 && seal::from_hex(text).has_value();
}

class FolderStore : public DocumentStore {
public:
    explicit FolderStore(std::string folder) : folder_(std::move(folder)) { must(make_folder(folder_)); }

    std::string put(std::string_view bytes) override {
        check_size(bytes);
        std::string name = sha256_hex(bytes);
        // A file of that name is complete: it got its name after its bytes were on the disk. Damage that came
        // later is mended here.
        if (const Result<std::string> there = read_file(path(name), max_document_bytes);
            there && *there == bytes)
            return name;
        must(make_folder(folder_ + "/" + name.substr(0, 2)));
        must(write_file(path(name), bytes));
        return name;
    }

    std::string get(const std::string& sha256) override {
        Result<std::string> bytes = read_file(path(sha256), max_document_bytes);
        if (!bytes) throw Stop{bytes.fault()};
        if (sha256_hex(*bytes) != sha256) throw Stop{damaged(sha256)};
        return std::move(*bytes);
    }

    void each(const std::function<void(const std::string&)>& take) override {
        visit([&](const std::filesystem::path& file) {
            if (const std::string name = file.filename().string(); is_name(name)) take(name);
        });
    }

    bool has(const std::string& sha256) override { return ::access(path(sha256).c_str(), R_OK) == 0; }

    void remove(const std::string& sha256) override { ::unlink(path(sha256).c_str()); }

    void sweep() override {
        visit([](const std::filesystem::path& file) {
            if (!is_name(file.filename().string())) ::unlink(file.c_str());
        });
    }

private:
    std::string path(const std::string& name) const { return folder_ + "/" + name.substr(0, 2) + "/" + name; }

    void visit(const std::function<void(const std::filesystem::path&)>& take) {
        std::error_code error;
        std::filesystem::recursive_directory_iterator it(folder_, error);
        for (; !error && it != std::filesystem::recursive_directory_iterator(); it.increment(error))
            if (it->is_regular_file(error)) take(it->path());
        if (error) throw Stop{{FaultCode::file_unreadable, error.message(), folder_, ""}};
    }

    std::string folder_;
};

class TableStore : public DocumentStore {
public:
    explicit TableStore(Database& database) : database_(database) {}

    std::string put(std::string_view bytes) override {
        check_size(bytes);
        std::string name = sha256_hex(bytes);
        database_.run(
            "INSERT INTO documents (sha256, bytes) VALUES (:p1, decode(:p2, 'base64')) ON CONFLICT DO "
            "NOTHING",
            {name, seal::to_base64(bytes)});
        return name;
    }

    std::string get(const std::string& sha256) override {
        const std::optional<Row> row =
            database_.row("SELECT encode(bytes, 'base64') FROM documents WHERE sha256 = :p1", "t", {sha256});
        if (!row) throw Stop{{FaultCode::file_missing, "no such document", "document " + sha256, ""}};
        std::optional<std::string> bytes = seal::from_base64(row->text(0));
        if (!bytes || sha256_hex(*bytes) != sha256) throw Stop{damaged(sha256)};
        return std::move(*bytes);
    }

    void each(const std::function<void(const std::string&)>& take) override {
        database_.each("SELECT sha256 FROM documents", "t", {}, [&](const Row& row) { take(row.text(0)); });
    }

    bool has(const std::string& sha256) override {
        return database_.row("SELECT 1 FROM documents WHERE sha256 = :p1", "i", {sha256}).has_value();
    }

    void remove(const std::string& sha256) override {
        database_.run("DELETE FROM documents WHERE sha256 = :p1", {sha256});
    }

    void sweep() override {}  // a table knows no half-written row

private:
    Database& database_;
};

}  // namespace

std::unique_ptr<DocumentStore> folder_store(const std::string& folder) {
    return std::make_unique<FolderStore>(folder);
}

std::unique_ptr<DocumentStore> table_store(Database& database) {
    return std::make_unique<TableStore>(database);
}

}  // namespace tipwright::report
