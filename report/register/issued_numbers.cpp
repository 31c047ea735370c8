#include "report/register/issued_numbers.hpp"

#include <algorithm>
#include <charconv>

#include "report/files/files.hpp"
#include "report/register/impl.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::report {
namespace {

constexpr std::string_view numbers_heading = "tipwright issued numbers 1";
constexpr std::size_t max_bytes = std::size_t{8} << 20;

constexpr const char* take_a_copy =
    "restore it from a copy; if there is none, or never was one: tipwright register seal "
    "--numbers-anew REASON";

seal::FileLock locked(const std::string& file) {
    Result<seal::FileLock> lock = seal::FileLock::wait_for(file);
    if (!lock) throw Stop{lock.fault()};
    return std::move(*lock);
}

std::int64_t number(const std::string& word, const seal::LineReader& lines) {
    std::int64_t out = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), out);
    if (error != std::errc{} || end != word.data() + word.size() || out < 0)
        throw Stop{lines.fault(FaultCode::damaged, in_quotes(word) + " is no number")};
    return out;
}

void check_signature(const std::string& text, const std::string& path, const seal::PublicKeys& keys) {
    const auto refuse = [&](const char* why) { stop(FaultCode::damaged, why, path, take_a_copy); };
    const std::size_t at = text.rfind("signature ");
    const std::size_t key_at = text.rfind("key ", at);
    if (at == std::string::npos || key_at == std::string::npos || text.back() != '\n')
        refuse("the list of issued numbers was cut short");
    const seal::PublicKey* key = keys.find(text.substr(key_at + 4, at - key_at - 5));
    const std::optional<std::string> bytes = seal::from_base64(text.substr(at + 10, text.size() - at - 11));
    seal::SignatureBytes signature{};
    if (key == nullptr || !bytes || bytes->size() != signature.size())
        refuse("the list of issued numbers is not signed with a key of this laboratory");
    std::copy(bytes->begin(), bytes->end(), signature.begin());
    if (!seal::verify(*key, std::string_view(text).substr(0, at), signature))
        refuse("the list of issued numbers was changed");
    const std::size_t day_at = text.rfind("\nat ", key_at);
    const std::string day =
        day_at == std::string::npos ? "" : text.substr(day_at + 4, text.find('\n', day_at + 1) - day_at - 4);
    // Before 1.1 it bore no date: it may be as late as the key's last day.
    if (const Outcome in_use = seal::check_in_use(*key, day.empty() ? key->retired_on : day, path); !in_use)
        stop(in_use.fault().code, "the list of issued numbers is " + in_use.fault().what, path, take_a_copy);
}

}  // namespace

IssuedNumbers IssuedNumbers::read(const std::string& path, const seal::PublicKeys& keys) {
    IssuedNumbers out;
    const Result<std::string> text = read_file(path, max_bytes);
    if (!text && text.fault().code == FaultCode::file_missing)
        stop(FaultCode::file_missing,
             "the list of issued numbers is missing, and without it numbers could be given twice", path,
             take_a_copy);
    if (!text) throw Stop{text.fault()};
    check_signature(*text, path, keys);
    seal::LineReader lines(*text, path);
    lines.next();
    if (lines.line() != numbers_heading)
        throw Stop{
            lines.fault(FaultCode::unsupported_version, "a list of numbers this program does not read")};
    while (lines.next()) {
        const std::vector<std::string> words = lines.words();
        if (words.size() == 4 && words[0] == "series")
            out.last[{words[1], number(words[2], lines)}] = number(words[3], lines);
        if (words.size() == 5 && words[0] == "log")
            out.logs[words[1]] = {number(words[2], lines), words[3], number(words[4], lines)};
        if (words.size() == 8 && words[0] == "begun")
            out.begun = Begun{words[1],
                              number(words[2], lines),
                              words[3],
                              words[4],
                              number(words[5], lines),
                              number(words[6], lines),
                              number(words[7], lines)};
    }
    return out;
}

void IssuedNumbers::store(const std::string& path, const seal::SigningKey& key,
                          const std::string& day) const {
    std::string text(numbers_heading);
    text += "\n";
    const auto add = [&](std::initializer_list<std::string> words) {
        std::string line;
        for (const std::string& word : words) line += (line.empty() ? "" : " ") + word;
        text += line + "\n";
    };
    for (const auto& [series, given] : last)
        add({"series", series.first, std::to_string(series.second), std::to_string(given)});
    for (const auto& [reg, log] : logs)
        add({"log", reg, std::to_string(log.seq), log.hash, std::to_string(log.seals)});
    if (begun)
        add({"begun", begun->reg, std::to_string(begun->seq), begun->hash, begun->bench,
             std::to_string(begun->year), std::to_string(begun->first), std::to_string(begun->last)});
    add({"at", day});
    add({"key", key.public_key().id});
    const seal::SignatureBytes signature = key.sign(text);
    add({"signature", seal::to_base64(std::string(signature.begin(), signature.end()))});
    must(write_file(path, text, 0600));
}

std::string IssuedNumbers::behind(const std::string& bench, std::int64_t year, std::int64_t known) const {
    const auto found = last.find({bench, year});
    std::int64_t noted = found == last.end() ? 0 : found->second;
    if (begun && begun->bench == bench && begun->year == year) noted = std::max(noted, begun->last);
    if (known <= noted) return {};
    return "the register knows numbers of " + bench + "-" + std::to_string(year) + " up to " +
           std::to_string(known) + ", the note beside the keys only up to " + std::to_string(noted) +
           ": an older note came back, and numbers after " + std::to_string(known) +
           " may have been given before";
}

seal::PublicKeys keys_beside(const std::string& path) {
    const std::size_t slash = path.find_last_of('/');
    Result<seal::PublicKeys> keys =
        seal::PublicKeys::read((slash == std::string::npos ? std::string() : path.substr(0, slash + 1)) +
                               std::string(seal::public_keys_name));
    if (!keys) throw Stop{keys.fault()};
    return std::move(*keys);
}

void note_log(Database& database, const AuditHead& head, IssuedNumbers& numbers) {
    const std::int64_t seals = database.row("SELECT coalesce(max(id), 0) FROM log_seals", "i")->integer(0);
    if (head.seq > 0) numbers.logs[register_id(database)] = {head.seq, head.hash, seals};
}

NumbersLock::NumbersLock(const std::string& path) : lock_(locked(path + ".lock")) {}

}  // namespace tipwright::report
