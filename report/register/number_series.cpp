#include "report/register/number_series.hpp"

#include <algorithm>

#include "report/register/certificates.hpp"

namespace tipwright::report {

namespace {

std::int64_t last_number(Database& database, Id series) {
    const std::int64_t given =
        database
            .row("SELECT coalesce(max(sequence), 0) FROM certificates WHERE series_id = :p1", "i", {series})
            ->integer(0);
    const std::int64_t left_out =
        database
            .row("SELECT coalesce(max(last_number), 0) FROM number_gaps WHERE series_id = :p1", "i", {series})
            ->integer(0);
    return std::max(given, left_out);
}

}  // namespace

Series lock_series(Database& database, const std::string& bench, std::int64_t year) {
    Series out;
    out.bench = bench;
    out.year = year;
    out.is_new = database
                     .row(
                         "INSERT INTO number_series (bench, year) VALUES (:p1, :p2) ON CONFLICT DO NOTHING "
                         "RETURNING id",
                         "i", {bench, year})
                     .has_value();
    const std::string sql = std::string("SELECT id FROM number_series WHERE bench = :p1 AND year = :p2") +
                            (database.dialect() == Dialect::postgresql ? " FOR UPDATE" : "");
    out.id = database.row(sql, "i", {bench, year})->integer(0);
    out.next = 1 + last_number(database, out.id);
    return out;
}

NumbersNote::NumbersNote(Database& database, const std::string& path, const seal::SigningKey& key)
    : database_(database), path_(path), key_(key) {
    if (path_.empty()) return;
    lock_.emplace(path_);
    numbers_ = IssuedNumbers::read(path_, keys_beside(path_));
    lost_ = numbers_.logs.empty() && database.row("SELECT count(*) FROM log_seals", "i")->integer(0) != 0;
    settle();
}

std::optional<std::string> NumbersNote::move_on(Series& series) const {
    const auto found = numbers_.last.find({series.bench, series.year});
    if (found == numbers_.last.end() || found->second < series.next) return std::nullopt;
    series.left_out_first = series.next;
    series.left_out_last = found->second;
    series.next = found->second + 1;
    return "certificates up to " + number_text(series.bench, series.year, found->second) +
           " were given before, and this register knows them only up to " +
           std::to_string(series.left_out_first - 1) +
           ": an older backup came back, or another register "
           "uses these keys; numbers go on after that one";
}

void NumbersNote::begin(const AuditHead& head, const Series& series, std::int64_t last) {
    if (path_.empty()) return;
    numbers_.begun = IssuedNumbers::Begun{
        register_id(database_), head.seq, head.hash, series.bench, series.year, series.next, last};
    numbers_.store(path_, key_);
}

void NumbersNote::end(const AuditHead& head) {
    if (path_.empty()) return;
    if (numbers_.begun) raise(*numbers_.begun);
    numbers_.begun.reset();
    note_log(database_, head, numbers_);
    numbers_.store(path_, key_);
}

void NumbersNote::raise(const IssuedNumbers::Begun& begun) {
    std::int64_t& last = numbers_.last[{begun.bench, begun.year}];
    last = std::max(last, begun.last);
}

void NumbersNote::settle() {
    if (!numbers_.begun) return;
    const IssuedNumbers::Begun begun = *numbers_.begun;
    numbers_.begun.reset();
    const bool here = begun.reg == register_id(database_) && log_holds(database_, begun.seq, begun.hash);
    if (!here || certificate_with_number(database_, number_text(begun.bench, begun.year, begun.first)) != 0)
        raise(begun);
}

Outcome Register::seal_log(const Actor& actor, const seal::SigningKey& key,
                           const std::string& issued_numbers) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        std::optional<NumbersLock> lock;
        IssuedNumbers numbers;
        if (!issued_numbers.empty()) {
            lock.emplace(issued_numbers);
            numbers = IssuedNumbers::read(issued_numbers, keys_beside(issued_numbers));
        }
        // So that the seal is missed when somebody takes it away.
        writer.log(sealing_action, "register", 0, "{}");
        writer.seal(key);
        note_log(writer.database, writer.head(), numbers);
        if (lock) numbers.store(issued_numbers, key);
        return Done{};
    });
}

}  // namespace tipwright::report
