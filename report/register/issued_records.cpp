#include "report/register/issued_records.hpp"

#include <nlohmann/json.hpp>

#include "report/record/record_json.hpp"
#include "report/register/dates.hpp"
#include "report/register/limits.hpp"

namespace tipwright::report {
namespace {

using Json = nlohmann::json;
using Place = Json::json_pointer;

// The statement follows from the rest, by the rules of whoever issued it.
constexpr const char* given_by_issuing[] = {"/number", "/issued_on", "/authorised_by", "/acceptance",
                                            "/statement"};
constexpr const char* places_of_limits[] = {"/evaluation/conformity/limits", "/plan/limits"};

std::string text_at(const Json& record, const std::string& place) {
    const Place at(place);
    return record.contains(at) && record[at].is_string() ? record[at].get<std::string>() : std::string();
}

// Takes back what the order said where the record was silent.
void take_back(Json& issued, const Json& stored, const char* place, const std::string& said) {
    if (!said.empty() && text_at(stored, place).empty() && text_at(issued, place) == said)
        issued[Place(place)] = stored.value(Place(place), Json(""));
}

// What confirming added to the source of the limits; empty: nothing.
std::string added_to_limits(const Json& issued, const Json& stored) {
    const std::string place = places_of_limits[0];
    const std::string before = text_at(stored, place + "/source");
    const std::string after = text_at(issued, place + "/source");
    const Place confirmed(place + "/confirmed");
    return stored.value(confirmed, false) || !issued.value(confirmed, false) || !after.starts_with(before)
               ? std::string()
               : after.substr(before.size());
}

void take_back_confirmation(Json& issued, const Json& stored, const std::string& added) {
    for (const std::string place : places_of_limits) {
        const std::string before = text_at(stored, place + "/source");
        if (text_at(issued, place + "/source") != before + added) continue;
        issued[Place(place + "/source")] = before;
        issued[Place(place + "/confirmed")] = stored.value(Place(place + "/confirmed"), Json(false));
    }
}

// As this program writes it, whatever wrote it.
std::optional<std::string> written_anew(const std::string& text) {
    const Result<Record> record = record_from_json(text, "record");
    return record ? std::optional(record_to_json(*record)) : std::nullopt;
}

}  // namespace

void IssuedRecords::take(const AuditEntry& entry) {
    if (const auto one = confirmation_in(entry)) confirmed_.emplace(one->first, note_of(one->second));
}

std::optional<std::string> IssuedRecords::unlike(const std::string& issued_text,
                                                 const std::string& stored_text,
                                                 const Certificate& certificate,
                                                 const std::optional<Order>& order) const {
    const auto as_expected = [&](const std::string& issued_by, const std::string& stored_by) {
        Json issued = Json::parse(issued_by, nullptr, false);
        const Json stored = Json::parse(stored_by, nullptr, false);
        if (!issued.is_object() || !stored.is_object()) return false;
        if (text_at(issued, "/number") != certificate.number ||
            text_at(issued, "/issued_on") != date_of(certificate.issued_at))
            return false;
        for (const char* place : given_by_issuing) {
            if (stored.contains(Place(place)))
                issued[Place(place)] = stored[Place(place)];
            else
                issued.erase(place + 1);
        }
        if (order) {
            take_back(issued, stored, "/identity/condition", order->condition);
            take_back(issued, stored, "/received_on", order->received_on);
        }
        if (const std::string added = added_to_limits(issued, stored); !added.empty()) {
            const Result<Record> before = record_from_json(stored_by, "record");
            if (before && confirmed_.contains({fingerprint_of(before->evaluation.conformity.limits), added}))
                take_back_confirmation(issued, stored, added);
        }
        return issued == stored;
    };
    try {
        if (as_expected(issued_text, stored_text)) return std::nullopt;
        const auto issued = written_anew(issued_text);
        const auto stored = written_anew(stored_text);
        if (issued && stored && as_expected(*issued, *stored)) return std::nullopt;
    } catch (const Json::exception&) {
        // Not built as a record is: told below.
    }
    return "its record is not the one that was entered and checked";
}

}  // namespace tipwright::report
