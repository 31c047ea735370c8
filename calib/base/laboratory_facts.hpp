// LaboratoryFacts: what a laboratory says of its work beside the numbers: procedure and its issue (ISO/IEC
// 17025:2017, 7.8.2.1 f), the decision rule agreed with the customer (7.8.6.1), the water, the functions of
// those who sign (7.8.2.1 o). Texts for people, empty: not stated. No units, no errors.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/plan.hpp"

namespace tipwright::calib {

struct Signatory {
    std::string name;      // as on the certificate
    std::string function;  // "head of the laboratory"
};

struct AgreedRule {
    DecisionRule rule = DecisionRule::simple_acceptance;
    std::string agreed;  // where and when
};

struct LaboratoryFacts {
    std::string procedure;
    std::string procedure_issue;
    std::string water;  // purity or kind
    std::optional<AgreedRule> agreed_rule;
    std::vector<Signatory> signatories;

    // Empty: not stated for this name.
    std::string function_of(const std::string& name) const {
        for (const Signatory& one : signatories)
            if (one.name == name) return one.function;
        return {};
    }
};

}  // namespace tipwright::calib
