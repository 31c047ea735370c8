#include "report/register/database_faults.hpp"

#include <sqlite3.h>

#include <string_view>

namespace tipwright::report {
namespace {

// What a guard of the schema said (RAISE), without the database's own words around it.
std::string guard_text(std::string text) {
    if (const std::size_t at = text.find("ERROR:"); at != std::string::npos) text.erase(0, at + 6);
    text = text.substr(0, text.find("CONTEXT:"));
    for (const char* prefix : {"sqlite3_statement_backend::loadOne: ", "sqlite3_statement_backend::loadRS: "})
        if (const std::size_t at = text.find(prefix); at != std::string::npos)
            text.erase(0, at + std::string_view(prefix).size());
    const std::size_t start = text.find_first_not_of(" \n");
    text = start == std::string::npos ? "" : text.substr(start);
    return text.substr(0, text.find_first_of('\n'));
}

}  // namespace

std::string said_by_database(std::string text, const std::vector<std::string>& secrets) {
    for (const char* doing : {" while executing \"", " while preparing \"", " while fetching data from \""})
        text = text.substr(0, text.find(doing));
    for (const std::string& secret : secrets)
        for (std::size_t at = 0; !secret.empty() && (at = text.find(secret, at)) != std::string::npos;)
            text.replace(at, secret.size(), "***");
    while (!text.empty() && (text.back() == '\n' || text.back() == '.' || text.back() == ' '))
        text.pop_back();
    return text;
}

Fault sqlite_fault(int result, const std::string& said, const std::string& where) {
    switch (result & 0xFF) {
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return {FaultCode::database_unreachable,
                    "another program holds the register, for longer than 30 s", where,
                    "try again when it is done"};
        case SQLITE_CORRUPT:
        case SQLITE_NOTADB:
            return {FaultCode::damaged, "the database is damaged (" + said + ")", where,
                    "restore the last backup"};
        case SQLITE_FULL:
            return {FaultCode::disk_full, "no room left on the disk", where, "make room and try again"};
        case SQLITE_CONSTRAINT:
            if (said.find("UNIQUE") != std::string::npos)
                return {FaultCode::duplicate, "already in the register (" + guard_text(said) + ")", where,
                        ""};
            return {FaultCode::not_permitted, guard_text(said), where, ""};
        case SQLITE_CANTOPEN:
        case SQLITE_PERM:
        case SQLITE_READONLY:
        case SQLITE_IOERR:
            return {FaultCode::file_unwritable, said, where, ""};
        default:
            return {FaultCode::damaged, said, where, "check the register"};
    }
}

Fault sqlite_fault(const std::string& said, const std::string& where) {
    const bool absent = said.find("unable to open") != std::string::npos;
    return {absent ? FaultCode::file_unwritable : FaultCode::damaged, said, where, ""};
}

Fault postgresql_fault(const std::string& state, const std::string& said, const std::string& where,
                       bool connected) {
    if (state == "23505")
        return {FaultCode::duplicate, "already in the register (" + guard_text(said) + ")", where, ""};
    if (state == "P0001" || state.starts_with("23"))
        return {FaultCode::not_permitted, guard_text(said), where, ""};
    if (state.starts_with("53"))
        return {FaultCode::disk_full, guard_text(said), where, "make room on the server"};
    if (state == "55P03")
        return {FaultCode::database_unreachable, "another program holds the register, for longer than 30 s",
                where, "try again when it is done"};
    if (state == "42501")
        return {FaultCode::not_permitted, "this user may not do that there: " + guard_text(said), where,
                "ask whoever looks after the server for permission"};
    if (!connected || state.starts_with("08") || state.starts_with("57P"))
        return {FaultCode::database_unreachable, "the server does not answer (" + guard_text(said) + ")",
                where, "nothing is half-written; try again when it is back"};
    return {FaultCode::damaged, guard_text(said), where, "check the register"};
}

}  // namespace tipwright::report
