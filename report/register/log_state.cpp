#include "report/register/log_state.hpp"

#include <algorithm>

#include "calib/base/joined.hpp"
#include "report/register/dates.hpp"
#include "report/register/impl.hpp"
#include "report/register/page_rows.hpp"

namespace tipwright::report {
namespace {

// The log goes on at this time.
std::string accepted_time(const AuditEntry& entry) {
    const std::string now = text_in(entry.detail, "now");
    return now.empty() ? entry.at : now;
}

std::string where_of(const AuditEntry& entry) {
    return "audit entry " + std::to_string(entry.seq);
}

void damaged(const TellFault& tell, std::string what, std::string where) {
    tell({FaultCode::damaged, std::move(what), std::move(where), ""});
}

// The last entry up to this one by which a log was sealed as it stood; 0: none.
std::int64_t accepted_up_to(Database& database, std::int64_t seq) {
    return database
        .row(
            "SELECT coalesce(max(seq), 0) FROM audit WHERE action = :p1 AND seq <= :p2 AND detail LIKE "
            "'%\"as_it_stands\"%'",
            "i", {std::string(sealing_action), seq})
        ->integer(0);
}

// The first seal that covers an entry; 1: none does.
Id seal_under(Database& database, std::int64_t seq) {
    return database.row("SELECT coalesce(min(id), 1) FROM log_seals WHERE seq >= :p1", "i", {seq})
        ->integer(0);
}

}  // namespace

ChainWalk::ChainWalk(const AuditEntry& after)
    : seq_(after.seq),
      before_(after.hash),
      at_(after.action == "accept clock" ? accepted_time(after) : after.at) {}

void ChainWalk::take(const AuditEntry& entry, const TellFault& tell) {
    if (entry.seq != seq_ + 1) damaged(tell, "the entries before it are missing", where_of(entry));
    if (audit_hash(before_, entry) != entry.hash)
        damaged(tell, "the entry, or one before it, was changed", where_of(entry));
    before_ = entry.hash;
    seq_ = entry.seq;
    at_ = entry.action == "accept clock" ? accepted_time(entry) : entry.at;
    ++entries_;
    if (entry.action == "issue" || entry.action == sealing_action) must_be_sealed_ = seq_;
}

void ChainWalk::walk(Database& database, const TellFault& tell,
                     const std::function<void(const AuditEntry&)>& each) {
    for (;;) {
        const auto page =
            rows_where<AuditEntry>(database, "WHERE t.seq > :p1 ORDER BY t.seq LIMIT :p2", {seq_, page_rows});
        for (const AuditEntry& entry : page) {
            take(entry, tell);
            if (each) each(entry);
        }
        if (page.size() < static_cast<std::size_t>(page_rows)) break;
    }
    const AuditHead head = read_audit_head(database);
    if (head.seq != seq_ || head.hash != before_ || head.at != at_)
        damaged(tell, "the audit log does not end where its head says", "audit log");
}

void SealWalk::walk(Database& database, const seal::PublicKeys* keys, Id from, std::int64_t must_be_sealed,
                    const TellFault& tell) {
    seals_ = from - 1;
    std::vector<LogSeal> fit;
    each_row<LogSeal>(database, "WHERE t.id >= :p1 ORDER BY t.id", {from}, [&](const LogSeal& seal) {
        const std::string where = "seal " + std::to_string(seal.id) + " of the log";
        if (seal.id != seals_ + 1) damaged(tell, "the seals before it are missing", where);
        seals_ = seal.id;
        if (keys == nullptr) return;
        if (const std::optional<std::string> why = unfit_seal(seal, *keys)) {
            damaged(tell, *why, where);
            return;
        }
        fit.push_back(seal);
        if (const Outcome in_use = seal::check_in_use(*keys->find(seal.key_id), date_of(seal.at), where);
            !in_use) {
            out_of_time_.emplace_back(seal.seq, in_use.fault());
            return;
        }
        if (seal.seq < sealed_entries_) damaged(tell, "is not in its place", where);
        sealed_entries_ = std::max(sealed_entries_, seal.seq);
        sealed_at_ = seal.at;
        // Whoever sealed this stands for what is before it.
        std::erase_if(out_of_time_, [&](const auto& one) { return one.first <= seal.seq; });
    });
    for (auto& [seq, why] : out_of_time_)
        why.remedy = "see what the log says since, then seal it with the key in use: tipwright register seal";
    for (const LogSeal& seal : fit) {
        if (seal.seq == 0) continue;
        const std::string where = "audit entry " + std::to_string(seal.seq);
        const auto entry = row_where<AuditEntry>(database, "t.seq = :p1", {seal.seq});
        if (!entry || entry->hash != seal.hash)
            damaged(tell, "the log is not the one the laboratory sealed", where);
        else if (seal.at < entry->at)
            damaged(tell, "its seal bears an earlier date than the entry", where);
    }
    const std::int64_t covered =
        out_of_time_.empty() ? sealed_entries_ : std::max(sealed_entries_, out_of_time_.back().first);
    if (keys != nullptr && must_be_sealed > covered)
        damaged(tell, "what is logged here was sealed with it, and the seal is missing",
                "audit entry " + std::to_string(must_be_sealed));
}

bool still_holds(Database& database, const IssuedNumbers::Log& noted) {
    return log_holds(database, noted.seq, noted.hash) &&
           database.row("SELECT coalesce(max(id), 0) FROM log_seals", "i")->integer(0) >= noted.seals;
}

std::string lacks(const IssuedNumbers::Log& noted) {
    return "the register lacks what it held when it was last sealed, at entry " + std::to_string(noted.seq) +
           ": an older backup came back, or entries were taken away";
}

std::string not_noted(std::int64_t sealed_entries) {
    return "the note beside the keys does not know this register, which was sealed up to entry " +
           std::to_string(sealed_entries) + " of its log: an older note came back, or another's";
}

LogState look_at_log(Database& database, const seal::PublicKeys& keys, const IssuedNumbers& numbers,
                     LookAt how_far) {
    LogState out;
    const TellFault tell = [&](Fault fault) {
        if (!out.broken) out.broken = std::move(fault);
    };
    const auto found = numbers.logs.find(register_id(database));
    const IssuedNumbers::Log* noted = found == numbers.logs.end() ? nullptr : &found->second;
    const bool holds = noted != nullptr && still_holds(database, *noted);
    // Faults before are told by every inspection, and not once more to whoever seals.
    const std::int64_t from = !holds                           ? 0
                              : how_far == LookAt::since_noted ? noted->seq
                                                               : accepted_up_to(database, noted->seq);
    const auto start = row_where<AuditEntry>(database, "t.seq = :p1", {from});
    ChainWalk chain = start ? ChainWalk(*start) : ChainWalk();
    chain.walk(database, tell);
    SealWalk seals;
    seals.walk(database, &keys, start ? seal_under(database, from) : 1, chain.must_be_sealed(), tell);
    if (!seals.out_of_time().empty()) out.out_of_time = seals.out_of_time().front().second;
    if (noted != nullptr && !holds) out.lost = lacks(*noted);
    if (noted == nullptr && seals.seals() > 0) out.unnoted = not_noted(seals.sealed_entries());
    return out;
}

void refuse_to_seal(const Fault& broken) {
    stop(broken.code, broken.what, broken.where,
         "it is not sealed like this; see 'tipwright register check' and restore what was changed, or say "
         "why it stays: tipwright register seal --as-it-stands REASON");
}

std::string accepted_in(const AuditEntry& entry) {
    std::string out;
    if (entry.action != sealing_action && entry.action != missing_action) return out;
    const auto why = [&](const char* name, const char* what) {
        const std::string reason = text_in(entry.detail, name);
        if (!reason.empty()) add_part(out, std::string(what) + " (" + reason + ")");
    };
    why("numbers_anew", "the list of issued numbers was rebuilt");
    why("as_it_stands", "the log was sealed as it stood");
    add_part(out, text_in(entry.detail, "missed"));
    if (!out.empty())
        out = "entry " + std::to_string(entry.seq) + " of the log, " + entry.at + ", " + entry.person + ": " +
              out;
    return out;
}

}  // namespace tipwright::report
