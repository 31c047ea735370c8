#include "report/register/command_log.hpp"

#include <algorithm>

#include "report/register/dates.hpp"
#include "report/register/detail.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t most_details = 20;
constexpr std::size_t longest_detail = 400;

// Its first characters, none cut through.
std::string shortened(const std::string& text) {
    if (text.size() <= longest_detail) return text;
    std::size_t end = longest_detail;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80) --end;
    return text.substr(0, end) + "...";
}

}  // namespace

Outcome log_command(const std::string& location, const std::string& now, const PageCommand& command) {
    const auto logged = answered([&] {
        if (!now.empty() && !is_utc_time(now))
            stop(FaultCode::bad_value, in_quotes(now) + " is not a UTC time", "now");
        const auto impl = Register::Impl::open(location, false);
        Database& database = *impl->database;
        database.begin_write();
        struct End {
            Database& database;
            bool done = false;
            ~End() {
                if (!done) database.rollback();
            }
        } end{database};
        AuditHead head = lock_audit_head(database);
        const std::string at = std::max(now, head.at);
        Detail detail;
        detail.text("command", shortened(command.command)).text("device", shortened(command.device));
        for (std::size_t k = 0; k < std::min(command.details.size(), most_details); ++k)
            detail.text(command.details[k].first, shortened(command.details[k].second));
        if (!now.empty() && at != now) detail.text("clock", now);
        append_audit(database, head, {0, at, command.person, "command", "page", 0, detail.json(), "", ""});
        database.commit();
        end.done = true;
        return Done{};
    });
    return logged ? Outcome(Done{}) : Outcome(logged.fault());
}

}  // namespace tipwright::report
