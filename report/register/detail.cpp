#include "report/register/detail.hpp"

#include <charconv>

namespace tipwright::report {
namespace {

void append_string(std::string& out, std::string_view text) {
    static constexpr char hex[] = "0123456789abcdef";
    out.push_back('"');
    for (const char c : text) {
        if (c == '"' || c == '\\') {
            out.push_back('\\');
            out.push_back(c);
        } else if (static_cast<unsigned char>(c) < 0x20) {
            out += "\\u00";
            out.push_back(hex[static_cast<unsigned char>(c) >> 4]);
            out.push_back(hex[static_cast<unsigned char>(c) & 15]);
        } else {
            out.push_back(c);
        }
    }
    out.push_back('"');
}

}  // namespace

void Detail::key(std::string_view name) {
    if (!body_.empty()) body_.push_back(',');
    append_string(body_, name);
    body_.push_back(':');
}

Detail& Detail::text(std::string_view name, std::string_view value) {
    if (value.empty()) return *this;
    key(name);
    append_string(body_, value);
    return *this;
}

Detail& Detail::integer(std::string_view name, std::int64_t value) {
    if (value == 0) return *this;
    key(name);
    body_ += std::to_string(value);
    return *this;
}

Detail& Detail::real(std::string_view name, const std::optional<double>& value) {
    if (!value) return *this;
    key(name);
    char out[40];
    const auto end = std::to_chars(out, out + sizeof out, *value);
    body_.append(out, end.ptr);
    return *this;
}

Detail& Detail::interval(const std::optional<AgreedInterval>& value) {
    if (value) integer("interval_months", value->months).text("interval_agreed", value->agreed);
    return *this;
}

std::string detail_of(const Person& person) {
    return Detail()
        .text("name", person.name)
        .integer("may_measure", person.may_measure ? 1 : 0)
        .integer("may_check", person.may_check ? 1 : 0)
        .integer("may_issue", person.may_issue ? 1 : 0)
        .integer("active", person.active ? 1 : 0)
        .json();
}

std::string detail_of(const Customer& customer) {
    return Detail()
        .text("name", customer.name)
        .text("address", customer.address)
        .text("contact", customer.contact)
        .interval(customer.interval)
        .json();
}

std::string detail_of(const Station& station) {
    return Detail()
        .integer("customer", station.customer)
        .text("name", station.name)
        .text("place", station.place)
        .json();
}

std::string detail_of(const GaugeEntry& gauge) {
    return Detail()
        .text("serial", gauge.serial)
        .text("model", gauge.model)
        .text("kind", gauge.kind)
        .real("nominal_tip_mm", gauge.nominal_tip_mm)
        .real("catch_diameter_mm", gauge.catch_diameter_mm)
        .real("catch_diameter_u_mm", gauge.catch_diameter_u_mm)
        .text("catch_method", gauge.catch_method)
        .text("contacts", gauge.contacts)
        .integer("customer", gauge.customer)
        .integer("station", gauge.station)
        .text("in_service_on", gauge.in_service_on)
        .interval(gauge.interval)
        .text("note", gauge.note)
        .json();
}

std::string detail_of(const InstrumentEntry& instrument) {
    return Detail()
        .text("role", instrument.role)
        .text("description", instrument.description)
        .text("serial", instrument.serial)
        .text("bench", instrument.bench)
        .json();
}

std::string detail_of(const InstrumentCalibration& calibration) {
    return Detail()
        .integer("instrument", calibration.instrument)
        .text("certificate", calibration.certificate)
        .text("calibrated_on", calibration.calibrated_on)
        .text("due_on", calibration.due_on)
        .text("traceability", calibration.traceability)
        .json();
}

std::string detail_of(const Order& order) {
    return Detail()
        .integer("gauge", order.gauge)
        .text("received_on", order.received_on)
        .text("condition", order.condition)
        .text("request", order.request)
        .text("closed_on", order.closed_on)
        .json();
}

}  // namespace tipwright::report
