#include "report/register/maintenance.hpp"

#include <algorithm>
#include <cstring>

#include "report/register/detail.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

std::array<char, 16> short_name(const std::string& sha256) {
    std::array<char, 16> out{};
    if (const auto bytes = seal::from_hex(sha256); bytes && bytes->size() >= out.size())
        std::memcpy(out.data(), bytes->data(), out.size());
    return out;
}

std::optional<AgreedInterval> interval(const Row& row, std::size_t at) {
    if (row.null(at)) return std::nullopt;
    return AgreedInterval{static_cast<int>(row.integer(at)), row.text(at + 1)};
}

std::vector<std::string> words(const std::string& text) {
    std::vector<std::string> out;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find(' ', at), text.size());
        out.push_back(text.substr(at, end - at));
        at = end + 1;
    }
    return out;
}

TableShape shape(const std::string& name, const std::string& columns, const std::string& types,
                 const std::string& key) {
    return {name, words(columns), types, words(key), key == "id" && name != "audit_head"};
}

}  // namespace

NamedDocuments::NamedDocuments(Database& database) {
    each_named_document(database, [&](const std::string& sha256) { names_.push_back(short_name(sha256)); });
    std::sort(names_.begin(), names_.end());
}

bool NamedDocuments::has(const std::string& sha256) const {
    return std::binary_search(names_.begin(), names_.end(), short_name(sha256));
}

void each_named_document(Database& database, const std::function<void(const std::string&)>& take) {
    constexpr std::int64_t page = 5000;
    const auto walk = [&](const std::string& sql, const std::string& types) {
        for (std::int64_t after = 0;;) {
            std::int64_t rows = 0;
            database.each(sql + " ORDER BY id LIMIT :p2", types, {after, page}, [&](const Row& row) {
                after = row.integer(0);
                ++rows;
                for (std::size_t i = 1; i < row.cells.size(); ++i)
                    if (!row.null(i)) take(digest_of(row.text(i)));
            });
            if (rows < page) return;
        }
    };
    walk("SELECT id, sha256 FROM records WHERE id > :p1", "it");
    walk(
        "SELECT id, as_left_sha256, as_found_sha256, pdf_sha256, xml_sha256 FROM certificates WHERE id > :p1",
        "itttt");
    database.each("SELECT sha256 FROM certificate_documents ORDER BY certificate_id, name", "t", {},
                  [&](const Row& row) { take(digest_of(row.text(0))); });
}

void each_detail(Database& database,
                 const std::function<void(const std::string&, Id, const std::string&)>& take) {
    database.each("SELECT id, name, may_measure, may_check, may_issue, active FROM people ORDER BY id",
                  "itiiii", {}, [&](const Row& row) {
                      take("person", row.integer(0),
                           detail_of(Person{row.integer(0), row.text(1), row.integer(2) != 0,
                                            row.integer(3) != 0, row.integer(4) != 0, row.integer(5) != 0}));
                  });
    database.each(
        "SELECT id, name, address, contact, interval_months, interval_agreed FROM customers ORDER BY id",
        "itttit", {}, [&](const Row& row) {
            take(
                "customer", row.integer(0),
                detail_of(Customer{row.integer(0), row.text(1), row.text(2), row.text(3), interval(row, 4)}));
        });
    database.each("SELECT id, customer_id, name, place FROM stations ORDER BY id", "iitt", {},
                  [&](const Row& row) {
                      take("station", row.integer(0),
                           detail_of(Station{row.integer(0), row.integer(1), row.text(2), row.text(3)}));
                  });
    each_gauge(database, [&](const GaugeEntry& gauge) { take("gauge", gauge.id, detail_of(gauge)); });
    database.each("SELECT id, role, description, serial, bench FROM instruments ORDER BY id", "itttt", {},
                  [&](const Row& row) {
                      take("instrument", row.integer(0),
                           detail_of(InstrumentEntry{row.integer(0), row.text(1), row.text(2), row.text(3),
                                                     row.text(4)}));
                  });
    database.each(
        "SELECT id, instrument_id, certificate, calibrated_on, due_on, traceability FROM calibrations ORDER "
        "BY id",
        "iitttt", {}, [&](const Row& row) {
            take("calibration", row.integer(0),
                 detail_of(InstrumentCalibration{row.integer(0), row.integer(1), row.text(2), row.text(3),
                                                 row.text(4), row.text(5)}));
        });
    database.each("SELECT id, gauge_id, received_on, condition, request, closed_on FROM orders ORDER BY id",
                  "iitttt", {}, [&](const Row& row) {
                      take("order", row.integer(0),
                           detail_of(Order{row.integer(0), row.integer(1), row.text(2), row.text(3),
                                           row.text(4), row.text(5)}));
                  });
}

const std::vector<TableShape>& table_shapes() {
    static const std::vector<TableShape> all{
        shape("people", "id name may_measure may_check may_issue active", "itiiii", "id"),
        shape("customers", "id name address contact interval_months interval_agreed", "itttit", "id"),
        shape("stations", "id customer_id name place", "iitt", "id"),
        shape(
            "gauges",
            "id serial serial_key model model_key kind nominal_tip_mm catch_diameter_mm catch_diameter_u_mm "
            "catch_method contacts customer_id station_id in_service_on interval_months interval_agreed note "
            "last_calibrated_on due_on",
            "itttttrrrttiititttt", "id"),
        shape("instruments", "id identity role description serial bench", "ittttt", "id"),
        shape("calibrations", "id instrument_id certificate calibrated_on due_on traceability", "iitttt",
              "id"),
        shape("instrument_faults", "id instrument_id good_until found_on found", "iittt", "id"),
        shape("orders", "id gauge_id received_on condition request closed_on", "iitttt", "id"),
        shape("findings", "id order_id person_id found_on found work_done", "iiittt", "id"),
        shape("adjustments",
              "id order_id person_id made_on turns_a turns_b change_a_mL change_b_mL work_done", "iiitrrrrt",
              "id"),
        shape("runs", "id gauge_id bench source_name source_sha256 operator_name started_at ended_at",
              "iitttttt", "id"),
        shape("records", "id run_id person_id entered_at state complete verdict sha256 points", "iiittittt",
              "id"),
        shape("number_series", "id bench year", "iti", "id"),
        shape("certificates",
              "id kind state gauge_id order_id as_found_id as_left_id calibrated_on refers_to reason "
              "drafted_by drafted_at "
              "checked_by checked_at issued_by issued_at series_id sequence fingerprint key_id signature "
              "as_left_sha256 "
              "as_found_sha256 pdf_sha256 xml_sha256 drift_percent drift_en drift_at_mm_h drift_since",
              "ittiiiitititititiitttttttrrrt", "id"),
        shape("certificate_documents", "certificate_id name sha256", "itt", "certificate_id name"),
        shape("certificate_calibrations", "calibration_id used_on certificate_id", "iti",
              "calibration_id used_on certificate_id"),
        shape("audit", "seq at person action subject subject_id detail hash", "ittttitt", "seq"),
        shape("audit_head", "id seq at hash", "iitt", "id"),
    };
    return all;
}

}  // namespace tipwright::report
