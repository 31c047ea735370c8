// A check in the field as one page (PDF): whose gauge, what was counted and poured, the error with its
// uncertainty and verdict, method, budget, remarks. It says of itself that it is no certificate.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "calib/base/fault.hpp"
#include "calib/decision/field_check.hpp"
#include "report/certificate/stationery.hpp"

namespace tipwright::report {

struct FieldCheckFacts {
    std::string serial;
    std::string model;
    std::string kind_title;
    std::string station;
    std::string customer;
    std::string made_on;  // ISO date
    std::string made_by;
    bool collected = false;  // else poured
    int tips = 0;
    std::optional<double> limit_percent;
    std::string accepted_for;  // why an error beyond belief was kept
    std::string note;
    std::string last_certificate;  // number, and its date
    std::string last_certificate_on;
    bool invented = false;
    double coverage = calib::default_coverage;
};

// A remark in the language; indices stand between tildes.
std::string field_remark_text(const certificate::Words& words, const calib::FieldRemark& remark);

// Faults: bad_value (a letter the font lacks), those of the fonts.
Result<std::string> draw_field_check(const FieldCheckFacts& facts, const calib::FieldCheck& check,
                                     const Stationery& paper);

}  // namespace tipwright::report
