#include "bench/page/desk/pairing.hpp"

#include <sodium.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "bench/page/desk/sessions.hpp"
#include "calib/base/text.hpp"

namespace tipwright::page {

namespace {

constexpr std::size_t most_addresses = 1000;
constexpr std::size_t code_letters = 8;
// Without I, L, O and U.
constexpr std::string_view letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

std::string new_code() {
    std::string out;
    for (std::size_t k = 0; k < code_letters; ++k) {
        if (k == code_letters / 2) out += '-';
        out += letters[randombytes_uniform(static_cast<std::uint32_t>(letters.size()))];
    }
    return out;
}

// As typed: small letters, blanks and hyphens are no mistake, and letters that the code has not are what they
// look like.
std::string plain_code(const std::string& typed) {
    std::string out;
    for (const char c : typed) {
        char one = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
        if (one == ' ' || one == '-') continue;
        if (one == 'O') one = '0';
        if (one == 'I' || one == 'L') one = '1';
        out += one;
        if (out.size() > code_letters) break;
    }
    return out;
}

bool same(const std::string& a, const std::string& b) {
    return a.size() == b.size() && sodium_memcmp(a.data(), b.data(), a.size()) == 0;
}

std::string digest_of(const std::string& word) {
    unsigned char bytes[crypto_generichash_BYTES];
    crypto_generichash(bytes, sizeof bytes, reinterpret_cast<const unsigned char*>(word.data()), word.size(),
                       nullptr, 0);
    char text[2 * sizeof bytes + 1];
    sodium_bin2hex(text, sizeof text, bytes, sizeof bytes);
    return text;
}

void forget_old(std::deque<Pairing::Time>& times, Pairing::Time now) {
    while (!times.empty() && now - times.front() > Pairing::wrong_within) times.pop_front();
}

// One line of at most so many bytes, no character cut through.
std::string name_of(const std::string& given) {
    const std::string out = first_bytes(visible(given), Pairing::longest_name);
    return out.empty() ? "device" : out;
}

}  // namespace

std::string devices_text(const std::vector<PairedDevice>& devices) {
    nlohmann::ordered_json out = {{"version", 1}, {"devices", nlohmann::ordered_json::array()}};
    for (const PairedDevice& one : devices)
        out["devices"].push_back({{"name", one.name}, {"paired_at", one.paired_at}, {"digest", one.digest}});
    return out.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

Result<std::vector<PairedDevice>> read_devices(const std::string& text, const std::string& where) {
    const Fault damaged{FaultCode::damaged, "this is no list of paired devices", where,
                        "remove it, or start with --forget-devices; devices are then paired anew"};
    const auto document = nlohmann::json::parse(text, nullptr, false);
    if (!document.is_object() || !document.contains("version") || document["version"] != 1 ||
        !document.contains("devices") || !document["devices"].is_array())
        return damaged;
    std::vector<PairedDevice> out;
    for (const auto& one : document["devices"]) {
        if (!one.is_object()) return damaged;
        PairedDevice& device = out.emplace_back();
        for (const auto& [name, text_there] : {std::pair{"name", &device.name},
                                               {"paired_at", &device.paired_at},
                                               {"digest", &device.digest}}) {
            if (!one.contains(name) || !one[name].is_string()) return damaged;
            *text_there = one[name].get<std::string>();
        }
        if (device.digest.size() != std::size_t{2} * crypto_generichash_BYTES) return damaged;
    }
    return out;
}

Pairing::Pairing(std::vector<PairedDevice> known, Keep keep, Told told)
    : devices_(std::move(known)), keep_(std::move(keep)), told_(std::move(told)), code_(new_code()) {}

std::optional<std::string> Pairing::device_of(const std::string& word) const {
    if (word.empty()) return std::nullopt;
    const std::string digest = digest_of(word);
    for (const PairedDevice& one : devices_)
        if (same(one.digest, digest)) return one.name;
    return std::nullopt;
}

Result<Pairing::Tried> Pairing::pair(const std::string& code, const std::string& name,
                                     const std::string& from, const std::string& at, Time now) {
    if (wrong_.size() >= most_addresses && !wrong_.contains(from)) wrong_.clear();
    std::deque<Time>& wrong_here = wrong_[from];
    forget_old(wrong_here, now);
    forget_old(wrong_together_, now);
    if (wrong_here.size() >= wrong_allowed || wrong_together_.size() >= wrong_allowed_together)
        return Tried{Answer::wait, ""};
    if (!same(plain_code(code), plain_code(code_))) {
        wrong_here.push_back(now);
        wrong_together_.push_back(now);
        return Tried{Answer::wrong, ""};
    }
    const std::string word = unguessable_word();
    std::vector<PairedDevice> more = devices_;
    if (more.size() >= most_devices) more.erase(more.begin());
    more.push_back({name_of(name), at, digest_of(word)});
    if (auto kept = keep_(more); !kept) return kept.fault();
    devices_ = std::move(more);
    code_ = new_code();
    wrong_.erase(from);
    told_(devices_.back(), code_);
    return Tried{Answer::paired, word};
}

}  // namespace tipwright::page
