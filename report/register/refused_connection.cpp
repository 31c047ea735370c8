#include "report/register/refused_connection.hpp"

#include <libpq-fe.h>
#include <poll.h>

#include <algorithm>
#include <cctype>
#include <memory>
#include <string_view>

namespace tipwright::report {
namespace {

constexpr int patience_ms = 10000;

struct Refusal {
    std::string user;
    std::string database;
    std::string state;  // SQLSTATE; empty: no server said anything
    std::string said;   // by the server, else by libpq: one line
};

std::string first_line(std::string text) {
    text = text.substr(0, text.find('\n'));
    while (!text.empty() && (text.back() == '.' || text.back() == ' ')) text.pop_back();
    return text;
}

// "... FATAL:  28P01: what\nLOCATION: ...": the severity may be in any language, state and place are not.
void read_words(const std::string& message, Refusal& out) {
    const std::size_t failed = message.rfind(" failed: ");
    std::string text = failed == std::string::npos ? message : message.substr(failed + 9);
    const std::size_t at = text.find(":  ");
    const auto is_state = [](std::string_view five) {
        return five.size() == 5 && std::all_of(five.begin(), five.end(), [](unsigned char c) {
                   return std::isdigit(c) != 0 || (c >= 'A' && c <= 'Z');
               });
    };
    if (at != std::string::npos && text.substr(at + 8, 2) == ": " &&
        is_state(std::string_view(text).substr(at + 3, 5))) {
        out.state = text.substr(at + 3, 5);
        text.erase(0, at + 10);
    }
    out.said = first_line(text);
}

Refusal ask_again(const std::string& words) {
    const std::unique_ptr<PGconn, void (*)(PGconn*)> attempt(PQconnectStart(words.c_str()), PQfinish);
    Refusal out;
    if (!attempt) return out;
    PQsetErrorVerbosity(attempt.get(), PQERRORS_VERBOSE);
    PostgresPollingStatusType next =
        PQstatus(attempt.get()) == CONNECTION_BAD ? PGRES_POLLING_FAILED : PGRES_POLLING_WRITING;
    while (next == PGRES_POLLING_READING || next == PGRES_POLLING_WRITING) {
        pollfd waiting{PQsocket(attempt.get()),
                       static_cast<short>(next == PGRES_POLLING_READING ? POLLIN : POLLOUT), 0};
        if (::poll(&waiting, 1, patience_ms) != 1) break;
        next = PQconnectPoll(attempt.get());
    }
    const auto text = [](const char* one) { return std::string(one != nullptr ? one : ""); };
    out.user = text(PQuser(attempt.get()));
    out.database = text(PQdb(attempt.get()));
    if (next == PGRES_POLLING_FAILED)
        read_words(text(PQerrorMessage(attempt.get())), out);
    else
        out.said = next == PGRES_POLLING_OK ? "it answers only now" : "no answer in time";
    return out;
}

}  // namespace

// SQLSTATEs: PostgreSQL 15, Appendix A. Which of them a refused login has: src/backend/libpq/auth.c, from
// memory, and held against a server in tests/report/register/refused_connection_test.cpp.
Fault refused_connection(const std::string& words, const std::string& where, const std::string& said) {
    // libpq's own word, in English: the program sets no locale.
    const bool in_vain = said.find("timeout expired") != std::string::npos;
    const Refusal why = in_vain ? Refusal{"", "", "", "no answer in time"} : ask_again(words);
    const std::string user = in_quotes(why.user);
    const auto refused = [&](std::string what, std::string remedy) {
        return Fault{FaultCode::not_permitted, std::move(what), where, std::move(remedy)};
    };
    if (why.state == "28P01")
        return refused("the server refuses user " + user +
                           ": the password is wrong, or it knows no such user (a server that asks for a "
                           "password does not say which)",
                       "correct the password in ~/.pgpass, the service file or PGPASSWORD, or user= in the "
                       "connection string");
    if (why.state == "3D000")
        return refused("the server has no database " + in_quotes(why.database),
                       "correct dbname= in the connection string, or have it created");
    if (why.state == "42501")
        return refused("user " + user + " may not use the database " + in_quotes(why.database),
                       "ask whoever looks after the server for permission to connect");
    if (why.state == "28000" && why.said.find("does not exist") != std::string::npos)
        return refused("the server knows no user " + user, "correct user= in the connection string");
    if (why.state == "28000")
        return refused(
            "the server does not let user " + user + " in (" + why.said + ")",
            "check user= and host= in the connection string, or ask whoever looks after the server");
    if (why.said.find("no password supplied") != std::string::npos)
        return refused("the server asks for the password of user " + user + " and none was given",
                       "put it into ~/.pgpass, a service file or PGPASSWORD");
    if (why.state.empty())
        return {FaultCode::database_unreachable, "no server answers (" + why.said + ")", where,
                "check host= and port=, the network, and that the server runs; nothing is half-written"};
    return {FaultCode::database_unreachable, "the server accepts no connections now (" + why.said + ")",
            where, "nothing is half-written; try again when it does"};
}

}  // namespace tipwright::report
