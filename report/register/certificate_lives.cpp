#include "report/register/certificate_lives.hpp"

#include <algorithm>

#include "report/register/impl.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

// The row as it stood before what the columns from `first` on say was written, in a state before.
ShortState earlier(const TableShape& shape, Row row, const std::string& first, CertificateState state) {
    const auto place = [&](const std::string& column) {
        return static_cast<std::size_t>(std::find(shape.columns.begin(), shape.columns.end(), column) -
                                        shape.columns.begin());
    };
    row.cells[place("state")] = std::string(name_of(state));
    for (std::size_t i = place(first); i < row.cells.size(); ++i) row.cells[i] = std::monostate{};
    return short_state(state_of_cells(shape, row));
}

}  // namespace

ShortState short_state(const std::string& state) {
    ShortState out{};
    const std::string bytes = seal::from_base64(state).value_or(state);
    std::copy_n(bytes.begin(), std::min(bytes.size(), out.size()), out.begin());
    return out;
}

Id CertificateLives::person_of(const AuditEntry& entry) const {
    const auto found = people_.find(entry.person);
    return found == people_.end() ? 0 : found->second;
}

void CertificateLives::take(const AuditEntry& entry) {
    if (entry.subject == table_of<Person>.subject && (entry.action == "enter" || entry.action == "change")) {
        std::erase_if(people_, [&](const auto& one) { return one.second == entry.subject_id; });
        people_[text_in(entry.detail, "name")] = entry.subject_id;
        return;
    }
    if (entry.subject != table_of<StoredCertificate>.subject) return;
    Life& life = lives_[entry.subject_id];
    if (entry.action == "draft") life.drafted = {person_of(entry), short_state(entry.state)};
    if (entry.action == "check") {
        life.checked = {person_of(entry), short_state(entry.state)};
        life.by_login = entry.detail == login_detail({"", "", true});
    }
    if (entry.action == "send back") {
        life.checked = {};
        life.by_login = false;
    }
    if (entry.action == "issue") life.issued_by = person_of(entry);
}

std::optional<std::string> CertificateLives::lacking(Database& database, Id certificate) const {
    const TableShape& shape = shape_of<StoredCertificate>();
    const std::optional<Row> row = database.row(
        "SELECT " + shape.list() + " FROM " + shape.name + " WHERE id = :p1", shape.types, {certificate});
    if (!row) return std::nullopt;
    const auto stored = read_row<StoredCertificate>(*row);
    const auto found = lives_.find(certificate);
    const Life life = found == lives_.end() ? Life{} : found->second;
    const auto unlike = [&](const Act& act, Id person, const char* first, CertificateState state) {
        return act.person == 0 || act.person != person || act.state != earlier(shape, *row, first, state);
    };
    const std::string as_it_is = ", says the audit log, as it was issued";
    if (unlike(life.drafted, stored.drafted_by, "checked_by", CertificateState::draft))
        return "was never drafted by whom it names" + as_it_is;
    if (unlike(life.checked, stored.checked_by, "issued_by", CertificateState::checked))
        return "was never checked by whom it names" + as_it_is;
    if (life.issued_by == 0 || life.issued_by != stored.issued_by)
        return std::string("was never issued by whom it names, says the audit log");
    return std::nullopt;
}

bool CertificateLives::checked_by_login(Id certificate) const {
    const auto found = lives_.find(certificate);
    return found != lives_.end() && found->second.by_login;
}

}  // namespace tipwright::report
