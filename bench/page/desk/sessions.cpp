#include "bench/page/desk/sessions.hpp"

#include <sodium.h>

#include <algorithm>

namespace tipwright::page {

namespace {

constexpr std::size_t most_devices = 1000;

}  // namespace

std::string unguessable_word() {
    unsigned char bytes[24];
    randombytes_buf(bytes, sizeof bytes);
    char text[64];
    sodium_bin2base64(text, sizeof text, bytes, sizeof bytes, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    return text;
}

void Sessions::forget_old(Time now) {
    std::erase_if(entries_, [&](const auto& one) {
        return now - one.second.seen > idle || now - one.second.begun > longest;
    });
}

std::string Sessions::open(const report::Actor& actor, Time now) {
    const std::lock_guard lock(mutex_);
    forget_old(now);
    if (entries_.size() >= most)
        entries_.erase(std::min_element(entries_.begin(), entries_.end(), [](const auto& a, const auto& b) {
            return a.second.seen < b.second.seen;
        }));
    std::string word = unguessable_word();
    entries_[word] = {actor, now, now};
    return word;
}

std::optional<report::Actor> Sessions::find(const std::string& word, Time now) {
    if (word.empty()) return std::nullopt;
    const std::lock_guard lock(mutex_);
    forget_old(now);
    const auto found = entries_.find(word);
    if (found == entries_.end()) return std::nullopt;
    found->second.seen = now;
    return found->second.actor;
}

void Sessions::close(const std::string& word) {
    const std::lock_guard lock(mutex_);
    entries_.erase(word);
}

bool Sessions::may_try(const std::string& device, Time now) {
    const std::lock_guard lock(mutex_);
    const auto found = wrong_.find(device);
    if (found == wrong_.end()) return true;
    std::erase_if(found->second, [&](Time at) { return now - at > wrong_within; });
    if (!found->second.empty()) return found->second.size() < wrong_allowed;
    wrong_.erase(found);
    return true;
}

void Sessions::tried_wrong(const std::string& device, Time now) {
    const std::lock_guard lock(mutex_);
    if (wrong_.size() >= most_devices && !wrong_.contains(device)) wrong_.clear();
    wrong_[device].push_back(now);
}

}  // namespace tipwright::page
