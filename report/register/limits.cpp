#include "report/register/limits.hpp"

#include <charconv>

#include "report/record/statement_of.hpp"
#include "report/register/dates.hpp"
#include "report/register/impl.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::report {

namespace {

constexpr std::string_view subject = "limits";
constexpr std::string_view action = "confirm";

std::string shortest(double value) {
    char digits[32];
    const auto end = std::to_chars(digits, digits + sizeof digits, value);
    return std::string(digits, end.ptr);
}

}  // namespace

std::string fingerprint_of(const calib::Limits& limits) {
    std::string text = limits.name + "\n" + limits.source + "\n";
    for (const calib::LimitRow& row : limits.rows)
        for (const double value : {row.from_mm_h, row.to_mm_h, row.low_percent, row.high_percent})
            text += shortest(value) + "\n";
    return seal::sha256_hex(text);
}

std::string note_of(const LimitsConfirmation& confirmation) {
    return "; " + confirmation.edition + " (" + confirmation.by + ", " + confirmation.on + ")";
}

std::optional<std::pair<std::string, LimitsConfirmation>> confirmation_in(const AuditEntry& entry) {
    if (entry.subject != subject || entry.action != action) return std::nullopt;
    return std::pair{
        text_in(entry.detail, "limits"),
        LimitsConfirmation{text_in(entry.detail, "edition"), text_in(entry.detail, "by"), date_of(entry.at)}};
}

std::optional<LimitsConfirmation> confirmation_of(Database& database, const calib::Limits& limits) {
    const std::string wanted = fingerprint_of(limits);
    std::optional<LimitsConfirmation> found;
    each_row<AuditEntry>(database,
                         "WHERE t.subject_id = 0 AND t.subject = :p1 AND t.action = :p2 ORDER BY t.seq",
                         {std::string(subject), std::string(action)}, [&](const AuditEntry& entry) {
                             const auto one = confirmation_in(entry);
                             if (one && one->first == wanted) found = one->second;
                         });
    return found;
}

void confirm_limits_of(Database& database, Record& record, const std::string& where) {
    calib::Limits& judged_by = record.evaluation.conformity.limits;
    if (judged_by.confirmed || judged_by.rows.empty()) return;
    const auto confirmation = confirmation_of(database, judged_by);
    if (!confirmation) {
        // Where a step that would decide it is doubted, no verdict rests on them.
        if (!record.statement.has(calib::ReservationId::limits_unconfirmed)) return;
        if (record.invented) return;
        stop(FaultCode::not_permitted,
             "nobody has compared the limits " + in_quotes(judged_by.name) +
                 ", which its verdict rests on, with the current edition of their source",
             where, "compare them, then: tipwright limits confirm FILE --edition EDITION --by NAME");
    }
    for (calib::Limits* limits : {&judged_by, &record.plan.limits}) {
        limits->confirmed = true;
        limits->source += note_of(*confirmation);
    }
    state(record);
}

Outcome Register::confirm_limits(const Actor& actor, const calib::Limits& limits, const std::string& edition,
                                 const std::string& by) {
    return answered([&] {
        check_name("edition", edition);
        check_name("by", by);
        if (limits.rows.empty()) stop(FaultCode::missing_field, "no limits in it", "limits");
        Writer writer(*impl_, actor, Permission::check);
        writer.log(action, subject, 0,
                   Detail()
                       .text("limits", fingerprint_of(limits))
                       .text("name", limits.name)
                       .text("source", limits.source)
                       .text("edition", edition)
                       .text("by", by)
                       .json());
        writer.commit();
        return Done{};
    });
}

}  // namespace tipwright::report
