#include "report/register/number_series.hpp"

#include <algorithm>

#include "calib/base/joined.hpp"
#include "report/files/files.hpp"
#include "report/register/certificates.hpp"
#include "report/register/log_state.hpp"
#include "report/register/numbers_beside_keys.hpp"

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

std::int64_t last_number(Database& database, const std::string& bench, std::int64_t year) {
    const auto series =
        database.row("SELECT id FROM number_series WHERE bench = :p1 AND year = :p2", "i", {bench, year});
    return series ? last_number(database, series->integer(0)) : 0;
}

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
    // All of them, a few a bench and year: one that was renamed would let this one begin anew.
    for (const NumberSeries& series : rows_where<NumberSeries>(database, "WHERE t.id <> :p1", {out.id}))
        must_be_as_logged<NumberSeries>(database, series.id);
    for (const NumberGap& gap : rows_where<NumberGap>(database, "ORDER BY t.id"))
        must_be_as_logged<NumberGap>(database, gap.id);
    if (!out.is_new) {
        must_be_as_logged<NumberSeries>(database, out.id);
        // Whoever bears the last number says where they go on.
        if (const auto last = database.row(
                "SELECT id FROM certificates WHERE series_id = :p1 ORDER BY sequence DESC LIMIT 1", "i",
                {out.id}))
            must_be_as_logged<StoredCertificate>(database, last->integer(0));
    }
    out.next = 1 + last_number(database, out.id);
    return out;
}

NumbersNote::NumbersNote(Database& database, const std::string& path, const seal::SigningKey& key,
                         std::string day)
    : database_(database), path_(path), key_(key), day_(std::move(day)) {
    if (path_.empty()) return;
    lock_.emplace(path_);
    numbers_ = IssuedNumbers::read(path_, keys_beside(path_));
    settle();
}

std::optional<std::string> NumbersNote::move_on(Series& series) const {
    const auto found = numbers_.last.find({series.bench, series.year});
    if (found == numbers_.last.end() || found->second < series.next) return std::nullopt;
    series.left_out_first = series.next;
    series.left_out_last = found->second;
    series.next = found->second + 1;
    const std::string up_to =
        "certificates up to " + number_text(series.bench, series.year, found->second) + " were ";
    const std::string known =
        ", and this register knows them only up to " + std::to_string(series.left_out_first - 1) + ": ";
    if (cut_off_ && cut_off_->bench == series.bench && cut_off_->year == series.year &&
        cut_off_->last == found->second && cut_off_->first <= series.left_out_first)
        return up_to + "about to be given" + known +
               "an issue was cut off, or an older backup came back; numbers go on after that one";
    return up_to + "given before" + known +
           "an older backup came back, or another register "
           "uses these keys; numbers go on after that one";
}

std::string NumbersNote::missed(const Series& series) const {
    if (path_.empty()) return {};
    const LogState state = look_at_log(database_, keys_beside(path_), numbers_, LookAt::since_noted);
    if (state.broken) refuse_to_seal(*state.broken);
    if (state.out_of_time) throw Stop{*state.out_of_time};
    std::string out = state.lost.empty() ? state.unnoted : state.lost;
    add_part(out, numbers_.behind(series.bench, series.year, last_number(database_, series.id)));
    return out;
}

void NumbersNote::begin(const AuditHead& head, const Series& series, std::int64_t last) {
    if (path_.empty()) return;
    numbers_.begun = IssuedNumbers::Begun{
        register_id(database_), head.seq, head.hash, series.bench, series.year, series.next, last};
    numbers_.store(path_, key_, day_);
}

void NumbersNote::end(const AuditHead& head) {
    if (path_.empty()) return;
    if (numbers_.begun) raise(*numbers_.begun);
    numbers_.begun.reset();
    note_log(database_, head, numbers_);
    numbers_.store(path_, key_, day_);
}

void NumbersNote::raise(const IssuedNumbers::Begun& begun) {
    std::int64_t& last = numbers_.last[{begun.bench, begun.year}];
    last = std::max(last, begun.last);
}

void NumbersNote::withdraw() {
    if (path_.empty()) return;
    numbers_.begun.reset();
    try {
        numbers_.store(path_, key_, day_);
    } catch (const Stop&) {
        // It stands as begun, and its numbers are left out.
    }
}

void NumbersNote::settle() {
    if (!numbers_.begun) return;
    const IssuedNumbers::Begun begun = *numbers_.begun;
    numbers_.begun.reset();
    // Also where the register stands as it did before that issue: it may be a backup of that very moment.
    raise(begun);
    if (certificate_with_number(database_, number_text(begun.bench, begun.year, begun.first)) == 0)
        cut_off_ = begun;
}

struct NumbersBesideKeys::Impl {
    explicit Impl(const std::string& file) : lock(file), path(file) {}
    NumbersLock lock;
    std::string path;
    IssuedNumbers numbers;
};

NumbersBesideKeys::NumbersBesideKeys(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
NumbersBesideKeys::NumbersBesideKeys(NumbersBesideKeys&&) noexcept = default;
NumbersBesideKeys::~NumbersBesideKeys() = default;

Result<NumbersBesideKeys> NumbersBesideKeys::read(const std::string& path) {
    return answered([&] {
        auto impl = std::make_unique<Impl>(path);
        impl->numbers = IssuedNumbers::read(path, keys_beside(path));
        return NumbersBesideKeys(std::move(impl));
    });
}

Outcome NumbersBesideKeys::sign(const seal::SigningKey& key, const std::string& day) const {
    return answered([&] {
        impl_->numbers.store(impl_->path, key, day);
        return Done{};
    });
}

Outcome begin_numbers(const std::string& path, const seal::SigningKey& key, const std::string& day) {
    return answered([&] {
        const NumbersLock lock(path);
        if (const auto there = read_file(path, 1); there || there.fault().code != FaultCode::file_missing)
            return Done{};
        IssuedNumbers{}.store(path, key, day);
        return Done{};
    });
}

}  // namespace tipwright::report
