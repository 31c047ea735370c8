#include "report/register/before_migration.hpp"

#include <fcntl.h>

#include <algorithm>
#include <filesystem>

#include "report/files/files.hpp"
#include "report/files/open_file.hpp"
#include "report/register/unfinished.hpp"

namespace tipwright::report {
namespace {

// VACUUM INTO leaves what it wrote to the operating system.
void force_to_disk(const std::string& file) {
    OpenFile open(file, O_RDONLY);
    open.flush();
    open.close();
    if (open.error() != 0) throw Stop{write_fault(file, open.error())};
}

constexpr std::string_view kept_begin = "register.sqlite.before-";

bool is_kept_name(std::string_view name) {
    return name.starts_with(kept_begin);
}

void keep_before_migration(Database& database, const std::string& folder, int to, const std::string& now) {
    if (database.dialect() != Dialect::sqlite) return;
    std::string time = now;
    std::erase(time, ':');
    const std::string kept = folder + "/" + std::string(kept_begin) + std::to_string(to) + "-" + time;
    Unfinished unfinished(kept, is_kept_name);
    std::error_code error;
    if (std::filesystem::exists(kept, error)) return;  // by another program, in this second
    // A copy of one state of the database, whatever others write meanwhile.
    database.run("VACUUM INTO :p1", {unfinished.path()});
    force_to_disk(unfinished.path());
    unfinished.finish();
}

}  // namespace

void bring_up_to_date(Database& database, const std::string& folder, std::span<const Migration> wanted,
                      const std::string& now) {
    const int found = schema_version(database);
    const int newest = wanted.empty() ? 0 : wanted.back().version;
    const auto goes_without = [&](const Migration& one) {
        return one.version <= found || one.for_writing_alone;
    };
    // An archive on a medium that cannot be written is read as it is, where that can be done.
    if (database.read_only() && found > 0 && found < newest &&
        std::all_of(wanted.begin(), wanted.end(), goes_without)) {
        migrate(database, wanted.first(static_cast<std::size_t>(found)));  // which only looks
        return;
    }
    if (database.read_only() && found > 0 && found < newest)
        throw Stop{{FaultCode::unsupported_version,
                    "the register has schema version " + std::to_string(found) + ", and is read with " +
                        std::to_string(newest) + " alone",
                    database.where(), "open it once where it can be written: tipwright register check"}};
    if (found > 0 && found < newest) keep_before_migration(database, folder, newest, now);
    migrate(database, wanted);
}

}  // namespace tipwright::report
