#include "report/register/command_log.hpp"

#include <algorithm>

#include "calib/base/text.hpp"
#include "report/register/dates.hpp"
#include "report/register/detail.hpp"
#include "report/register/impl.hpp"
#include "report/register/transaction.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t most_details = 20;
constexpr std::size_t longest_detail = 400;

std::string shortened(const std::string& text) {
    return text.size() <= longest_detail ? text : first_bytes(text, longest_detail) + "...";
}

}  // namespace

Outcome log_command(const std::string& location, const std::string& now, const PageCommand& command) {
    const auto logged = answered([&] {
        if (!now.empty() && !is_utc_time(now))
            stop(FaultCode::bad_value, in_quotes(now) + " is not a UTC time", "now");
        const auto impl = Register::Impl::open(location, Register::Impl::How::write);
        Database& database = *impl->database;
        Transaction transaction(database);
        AuditHead head = lock_audit_head(database);
        const std::string at = std::max(now, head.at);
        Detail detail;
        detail.text("command", shortened(command.command)).text("device", shortened(command.device));
        for (std::size_t k = 0; k < std::min(command.details.size(), most_details); ++k)
            detail.text(command.details[k].first, shortened(command.details[k].second));
        if (!now.empty() && at != now) detail.text("clock", now);
        append_audit(database, head, {0, at, command.person, "command", "page", 0, detail.json(), "", ""});
        transaction.commit();
        return Done{};
    });
    return logged ? Outcome(Done{}) : Outcome(logged.fault());
}

}  // namespace tipwright::report
