// An issued record against the one that was entered and checked: what issuing may add, and nothing beside it.
#include "report/register/issued_records.hpp"

#include "report/record/record_json.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEST_CASE("issued records: what the order says fills what the record left open, and overrules nothing") {
    const auto unlike = [](const std::string& entered, const std::string& issued,
                           const std::optional<std::string>& ordered) {
        Record record = record_of("EX-1");
        record.identity.condition = entered;
        const std::string stored = record_to_json(record);
        record.number = "B1-2026-00001";
        record.issued_on = "2026-03-05";
        record.authorised_by = "A. Signatory";
        record.identity.condition = issued;
        Certificate certificate;
        certificate.number = record.number;
        certificate.issued_at = "2026-03-05T09:00:00Z";
        std::optional<Order> order;
        if (ordered) {
            order.emplace();
            order->condition = *ordered;
        }
        return IssuedRecords().unlike(record_to_json(record), stored, certificate, order).has_value();
    };
    CHECK_FALSE(unlike("", "", std::nullopt));
    CHECK_FALSE(unlike("clean", "clean", std::nullopt));
    CHECK_FALSE(unlike("", "dented rim", "dented rim"));
    // Something else than the order says, in place of what was entered, or without an order.
    CHECK(unlike("", "clean", "dented rim"));
    CHECK(unlike("clean", "dented rim", "dented rim"));
    CHECK(unlike("", "dented rim", std::nullopt));
    CHECK(unlike("clean", "", "dented rim"));
}
