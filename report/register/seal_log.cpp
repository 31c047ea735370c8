// Sealing the log for its own sake: once a day, between issues, which seal it too.
#include <algorithm>

#include "calib/base/joined.hpp"
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/impl.hpp"
#include "report/register/log_state.hpp"
#include "report/register/number_series.hpp"

namespace tipwright::report {
namespace {

// The note beside the keys, or an empty one where a person says that there is none to be had.
IssuedNumbers noted_numbers(const std::string& path, bool anew) {
    try {
        IssuedNumbers out = IssuedNumbers::read(path, keys_beside(path));
        if (!anew) return out;
    } catch (const Stop& unreadable) {
        if (!anew) throw;
        return {};
    }
    stop(FaultCode::not_permitted, "the list of issued numbers is there and whole", path,
         "leave out --numbers-anew");
}

// An issue of this register that could not note its end came to it all the same.
void settle(Database& database, IssuedNumbers& numbers) {
    const std::optional<IssuedNumbers::Begun> begun = numbers.begun;
    if (!begun || begun->reg != register_id(database) ||
        certificate_with_number(database, number_text(begun->bench, begun->year, begun->last)) == 0)
        return;
    std::int64_t& last = numbers.last[{begun->bench, begun->year}];
    last = std::max(last, begun->last);
    numbers.begun.reset();
}

// Raises what is noted to what the register knows, and says where that was more.
std::string note_series(Database& database, IssuedNumbers& numbers) {
    std::string behind;
    for (const NumberSeries& series : rows_where<NumberSeries>(database, "ORDER BY t.id")) {
        const std::int64_t known = last_number(database, series.bench, series.year);
        add_part(behind, numbers.behind(series.bench, series.year, known));
        std::int64_t& last = numbers.last[{series.bench, series.year}];
        last = std::max(last, known);
    }
    return behind;
}

// What the seal to come would make lawful without a word.
std::string missed_of(Database& database, const std::string& path, const IssuedNumbers& numbers,
                      const SealingWords& words) {
    const LogState state = look_at_log(database, keys_beside(path), numbers, LookAt::everything);
    if (state.broken && words.as_it_stands.empty()) refuse_to_seal(*state.broken);
    if (!state.broken && !words.as_it_stands.empty())
        stop(FaultCode::not_permitted, "nothing in the log was changed outside the program", database.where(),
             "leave out --as-it-stands");
    std::string out;
    const auto add_fault = [&](const std::optional<Fault>& fault) {
        if (fault) add_part(out, fault->where + ": " + fault->what);
    };
    add_fault(state.broken);
    add_fault(state.out_of_time);
    add_part(out, state.lost);
    if (words.numbers_anew.empty()) add_part(out, state.unnoted);
    return out;
}

}  // namespace

Outcome Register::seal_log(const Actor& actor, const seal::SigningKey& key, const std::string& issued_numbers,
                           const SealingWords& words) {
    const bool anew = !words.numbers_anew.empty();
    const bool accepting = anew || !words.as_it_stands.empty();
    return written(*impl_, actor, accepting ? Permission::issue : Permission::any, [&](Writer& writer) {
        check_text("numbers_anew", words.numbers_anew);
        check_text("as_it_stands", words.as_it_stands);
        std::optional<NumbersLock> lock;
        IssuedNumbers numbers;
        std::string missed;
        if (!issued_numbers.empty()) {
            lock.emplace(issued_numbers);
            numbers = noted_numbers(issued_numbers, anew);
            missed = missed_of(writer.database, issued_numbers, numbers, words);
            settle(writer.database, numbers);
            const std::string behind = note_series(writer.database, numbers);
            if (!anew) add_part(missed, behind);
        }
        // So that the seal is missed when somebody takes it away.
        writer.log(sealing_action, "register", 0,
                   Detail()
                       .text("numbers_anew", words.numbers_anew)
                       .text("as_it_stands", words.as_it_stands)
                       .text("missed", missed)
                       .json());
        writer.seal(key);
        if (lock) {
            note_log(writer.database, writer.head(), numbers);
            numbers.store(issued_numbers, key, date_of(actor.now));
        }
        if (!missed.empty() && words.warn) words.warn(missed);
        return Done{};
    });
}

}  // namespace tipwright::report
