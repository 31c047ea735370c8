#include "report/register/foreign_triggers.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <string>

#include "calib/base/text.hpp"
#include "report/register/migrations.hpp"

namespace tipwright::report {
namespace {

// The text between the first `from` and the next `to`; empty where there is no such place.
std::string between(const std::string& text, std::string_view from, std::string_view to) {
    const std::size_t begin = text.find(from);
    if (begin == std::string::npos) return {};
    const std::size_t end = text.find(to, begin + from.size());
    return end == std::string::npos ? std::string()
                                    : text.substr(begin + from.size(), end - begin - from.size());
}

struct Acting {
    std::vector<std::string> there;
    std::set<std::string> own;
};

Acting acting_in_sqlite(Database& database) {
    Acting out;
    for (const Row& row :
         database.rows("SELECT sql FROM sqlite_master WHERE type IN ('trigger', 'view')", "t"))
        out.there.push_back(row.text(0));
    for (const Migration& version : migrations())
        out.own.insert(version.sqlite_guards.begin(), version.sqlite_guards.end());
    return out;
}

// By name, table and what the function does; PostgreSQL keeps names in small letters.
Acting acting_in_postgresql(Database& database) {
    Acting out;
    for (const Row& row :
         database.rows("SELECT t.tgname || ' on ' || c.relname || ': ' || p.prosrc FROM pg_trigger t "
                       "JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_namespace n ON n.oid = c.relnamespace "
                       "JOIN pg_proc p ON p.oid = t.tgfoid "
                       "WHERE NOT t.tgisinternal AND t.tgenabled = 'O' AND n.nspname = current_schema() "
                       "UNION ALL SELECT rulename || ' on ' || tablename || ': ' || definition FROM pg_rules "
                       "WHERE schemaname = current_schema()",
                       "t"))
        out.there.push_back(row.text(0));
    for (const Migration& version : migrations()) {
        std::map<std::string, std::string> bodies;
        for (const std::string& guard : version.postgresql_guards)
            if (guard.starts_with("CREATE FUNCTION "))
                bodies[between(guard, "CREATE FUNCTION ", "()")] = between(guard, "$guard$", "$guard$");
        for (const std::string& guard : version.postgresql_guards)
            if (guard.starts_with("CREATE TRIGGER "))
                out.own.insert(small_letters(between(guard, "CREATE TRIGGER ", " ")) + " on " +
                               between(guard, " ON ", " ") + ": " +
                               bodies[between(guard, "EXECUTE FUNCTION ", "()")]);
    }
    return out;
}

}  // namespace

std::vector<Fault> foreign_triggers(Database& database) {
    constexpr std::size_t shown = 80;
    const Acting acting =
        database.dialect() == Dialect::sqlite ? acting_in_sqlite(database) : acting_in_postgresql(database);
    std::vector<Fault> out;
    const auto add = [&](const char* what, const std::string& which) {
        out.push_back({FaultCode::damaged, what + first_bytes(which, shown), database.where(), ""});
    };
    for (const std::string& guard : acting.own)
        if (std::find(acting.there.begin(), acting.there.end(), guard) == acting.there.end())
            add("a guard against changes was taken away: ", guard);
    for (const std::string& one : acting.there)
        if (!acting.own.contains(one))
            add("something acts on what is entered that is not one of the register's guards: ", one);
    return out;
}

}  // namespace tipwright::report
