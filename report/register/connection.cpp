#include "report/register/connection.hpp"

#include <libpq-fe.h>

#include <map>
#include <memory>
#include <string_view>

namespace tipwright::report {
namespace {

std::string quoted_word(const std::string& value) {
    std::string out = "'";
    for (const char c : value) {
        if (c == '\'' || c == '\\') out.push_back('\\');
        out.push_back(c);
    }
    return out + "'";
}

}  // namespace

bool is_postgresql(const std::string& location) {
    if (location.starts_with("postgresql://") || location.starts_with("postgres://")) return true;
    // A folder whose name holds an equals sign has a slash or a dot before it.
    const std::size_t equals = location.find('=');
    return equals != std::string::npos && location.find_first_of("/.") > equals;
}

Result<Connection> read_connection(const std::string& text) {
    char* complaint = nullptr;
    const std::unique_ptr<PQconninfoOption, void (*)(PQconninfoOption*)> options(
        PQconninfoParse(text.c_str(), &complaint), PQconninfoFree);
    const std::unique_ptr<char, void (*)(void*)> owned(complaint, PQfreemem);
    // libpq's complaint may quote the text, and so a password: it is not passed on.
    if (!options)
        return Fault{FaultCode::syntax, "the connection string cannot be read", "register",
                     "write it as host=... dbname=... user=... or postgresql://user@host/database"};
    std::map<std::string, std::string> words{{"connect_timeout", "10"}};
    for (const PQconninfoOption* option = options.get(); option->keyword != nullptr; ++option)
        if (option->val != nullptr) words[option->keyword] = option->val;
    Connection out;
    for (const char* name : {"password", "sslpassword"})
        if (const auto found = words.find(name); found != words.end()) out.secrets.push_back(found->second);
    words["client_encoding"] = "UTF8";
    words["fallback_application_name"] = "tipwright";
    // Notices would be printed by libpq.
    words["options"] += " -c client_min_messages=error -c lock_timeout=30s";
    out.place = "postgresql " + (words.contains("host") ? words["host"] : std::string("local server")) +
                " database " + (words.contains("dbname") ? words["dbname"] : std::string("(default)"));
    for (const auto& [name, value] : words)
        out.words += (out.words.empty() ? "" : " ") + name + "=" + quoted_word(value);
    return out;
}

}  // namespace tipwright::report
