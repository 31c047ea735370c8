#include "report/register/guards.hpp"

#include <utility>

namespace tipwright::report {
namespace {

struct Rule {
    std::string table;
    std::string event;      // INSERT, UPDATE, DELETE
    std::string broken_if;  // over OLD and NEW
    std::string message;
};

// Columns that say what a certificate is; all of them fixed once it was checked.
const char* const content_changed =
    "(NEW.kind <> OLD.kind OR NEW.gauge_id <> OLD.gauge_id OR coalesce(NEW.order_id, 0) <> "
    "coalesce(OLD.order_id, 0) OR "
    "coalesce(NEW.as_found_id, 0) <> coalesce(OLD.as_found_id, 0) OR "
    "coalesce(NEW.as_left_id, 0) <> coalesce(OLD.as_left_id, 0) OR "
    "coalesce(NEW.refers_to, 0) <> coalesce(OLD.refers_to, 0) OR coalesce(NEW.reason, '') <> "
    "coalesce(OLD.reason, '') OR "
    "NEW.drafted_by <> OLD.drafted_by OR NEW.drafted_at <> OLD.drafted_at OR NEW.calibrated_on <> "
    "OLD.calibrated_on)";

// Numbers go on after the last certificate, or after numbers that were given before an older backup came
// back.
const std::string last_given =
    "(SELECT coalesce(max(c.sequence), 0) FROM certificates c WHERE c.series_id = NEW.series_id)";
const std::string last_left_out =
    "(SELECT coalesce(max(g.last_number), 0) FROM number_gaps g WHERE g.series_id = NEW.series_id)";
const std::string wrong_sequence = "NEW.state = 'issued' AND NEW.sequence <> 1 + (CASE WHEN " + last_given +
                                   " >= " + last_left_out + " THEN " + last_given + " ELSE " + last_left_out +
                                   " END)";

std::vector<Rule> rules_1() {
    std::vector<Rule> out{
        {"certificates", "DELETE", "TRUE", "certificates are never deleted"},
        {"certificates", "INSERT", "NEW.state <> 'draft'", "a certificate begins as a draft"},
        {"certificates", "UPDATE", "OLD.state = 'issued'", "an issued certificate cannot be changed"},
        {"certificates", "UPDATE", "OLD.state = 'discarded'", "a discarded draft cannot be changed"},
        {"certificates", "UPDATE", "OLD.id <> NEW.id", "a certificate keeps its id"},
        {"certificates", "UPDATE", "OLD.state = 'draft' AND NEW.state = 'issued'",
         "a certificate is checked before it is issued"},
        {"certificates", "UPDATE", std::string("OLD.state <> 'draft' AND ") + content_changed,
         "a checked certificate cannot be changed; send it back first"},
        {"certificates", "UPDATE",
         "OLD.state = 'checked' AND NEW.state IN ('checked', 'issued') AND "
         "(NEW.checked_by <> OLD.checked_by OR NEW.checked_at <> OLD.checked_at)",
         "who checked a certificate, and when, cannot be changed"},
        {"certificates", "UPDATE", wrong_sequence, "certificate numbers are given without gaps"},
        {"records", "UPDATE", "TRUE", "records cannot be changed"},
        {"records", "DELETE", "TRUE", "records are never deleted"},
        {"runs", "UPDATE", "TRUE", "runs cannot be changed"},
        {"runs", "DELETE", "TRUE", "runs are never deleted"},
        {"number_series", "UPDATE", "TRUE", "number series cannot be changed"},
        {"number_series", "DELETE", "TRUE", "number series are never deleted"},
        {"number_gaps", "UPDATE", "TRUE", "number gaps cannot be changed"},
        {"number_gaps", "DELETE", "TRUE", "number gaps are never deleted"},
        {"log_seals", "UPDATE", "TRUE", "seals of the log cannot be changed"},
        {"log_seals", "DELETE", "TRUE", "seals of the log are never deleted"},
        {"audit", "UPDATE", "TRUE", "the audit log cannot be changed"},
        {"audit", "DELETE", "TRUE", "the audit log is never deleted"},
        {"audit_head", "DELETE", "TRUE", "the audit log is never deleted"},
    };
    for (const char* table : {"certificate_documents", "certificate_calibrations"}) {
        out.push_back({table, "UPDATE", "TRUE", "an issued certificate cannot be changed"});
        out.push_back({table, "DELETE", "TRUE", "an issued certificate cannot be changed"});
        out.push_back({table, "INSERT",
                       "(SELECT c.state FROM certificates c WHERE c.id = NEW.certificate_id) <> 'checked'",
                       "an issued certificate cannot be changed"});
    }
    for (const char* table : {"people", "customers", "stations", "gauges", "instruments", "calibrations",
                              "instrument_faults", "orders", "findings", "adjustments"})
        out.push_back({table, "DELETE", "TRUE", "what was entered is never deleted"});
    return out;
}

std::vector<Rule> rules_2() {
    return {{"field_checks", "UPDATE", "TRUE", "a field check cannot be changed"},
            {"field_checks", "DELETE", "TRUE", "what was entered is never deleted"},
            {"calibrations_elsewhere", "DELETE", "TRUE", "what was entered is never deleted"}};
}

std::vector<std::string> sqlite_guards(const std::vector<Rule>& rules) {
    std::vector<std::string> out;
    int number = 0;
    out.reserve(rules.size());
    for (const Rule& rule : rules)
        out.push_back("CREATE TRIGGER guard_" + std::to_string(++number) + "_" + rule.table + " BEFORE " +
                      rule.event + " ON " + rule.table + " WHEN " + rule.broken_if +
                      " BEGIN SELECT RAISE(ABORT, '" + rule.message + "'); END");
    return out;
}

std::string guard_function(const std::string& name, const std::string& body) {
    return "CREATE FUNCTION " + name + "() RETURNS trigger LANGUAGE plpgsql AS $guard$ BEGIN " + body +
           " END $guard$";
}

std::string guard_trigger(const std::string& name, const std::string& function, const std::string& when,
                          const char* each) {
    return "CREATE TRIGGER " + name + " BEFORE " + when + " FOR EACH " + each + " EXECUTE FUNCTION " +
           function + "()";
}

std::vector<std::string> postgresql_guards(const std::vector<Rule>& rules) {
    std::vector<std::string> out;
    std::vector<std::pair<std::string, std::string>> done;  // table, event
    for (const Rule& rule : rules) {
        const std::pair<std::string, std::string> place{rule.table, rule.event};
        bool known = false;
        for (const auto& before : done) known = known || before == place;
        if (known) continue;
        done.push_back(place);
        const std::string name = "guard_" + rule.table + "_" + rule.event;
        std::string body;
        for (const Rule& same : rules)
            if (same.table == rule.table && same.event == rule.event)
                body += "IF " + same.broken_if + " THEN RAISE EXCEPTION '" + same.message + "'; END IF; ";
        body += rule.event == "DELETE" ? "RETURN OLD;" : "RETURN NEW;";
        out.push_back(guard_function(name, body));
        out.push_back(guard_trigger(name, name, rule.event + " ON " + rule.table, "ROW"));
        // TRUNCATE fires no row trigger.
        if (rule.event == "DELETE")
            out.push_back(guard_trigger(name + "_all", name, "TRUNCATE ON " + rule.table, "STATEMENT"));
    }
    return out;
}

}  // namespace

std::vector<std::string> sqlite_guards_1() {
    return sqlite_guards(rules_1());
}

std::vector<std::string> postgresql_guards_1() {
    return postgresql_guards(rules_1());
}

std::vector<std::string> sqlite_guards_2() {
    return sqlite_guards(rules_2());
}

std::vector<std::string> postgresql_guards_2() {
    return postgresql_guards(rules_2());
}

}  // namespace tipwright::report
