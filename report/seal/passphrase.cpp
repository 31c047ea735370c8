#include "report/seal/passphrase.hpp"

#include <sodium.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <new>
#include <set>
#include <utility>

namespace tipwright::seal {

namespace {

constexpr std::size_t fewest_different = 5;
// Rows of keys, and of what everybody begins with. Common practice, no source.
constexpr std::array<std::string_view, 6> rows{"qwertyuiop", "qwertzuiop", "azertyuiop",
                                               "asdfghjkl",  "yxcvbnm",    "zxcvbnm"};
constexpr std::array<std::string_view, 4> first_tried{"password", "passwort", "passphrase", "motdepasse"};

std::string lower(std::string_view text) {
    std::string out(text);
    for (char& c : out)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return out;
}

}  // namespace

Passphrase Passphrase::with_room(std::size_t bytes) {
    if (sodium_init() < 0) throw std::bad_alloc();
    Passphrase out;
    out.bytes_ = static_cast<char*>(sodium_malloc(std::max<std::size_t>(bytes, 1)));
    if (out.bytes_ == nullptr) throw std::bad_alloc();
    return out;
}

Passphrase::Passphrase(std::string&& text) : Passphrase(with_room(text.size())) {
    std::memcpy(bytes_, text.data(), text.size());
    size_ = text.size();
    sodium_memzero(text.data(), text.size());
    text.clear();
}

Passphrase::Passphrase(Passphrase&& other) noexcept
    : bytes_(std::exchange(other.bytes_, nullptr)), size_(std::exchange(other.size_, 0)) {}

Passphrase::~Passphrase() {
    sodium_free(bytes_);  // wipes
}

bool easily_guessed(std::string_view passphrase) {
    std::string text = lower(passphrase);
    bool guessed = std::set<char>(text.begin(), text.end()).size() < fewest_different;
    for (std::size_t period = 1; period <= text.size() / 2; ++period) {
        bool repeats = true;
        for (std::size_t i = period; i < text.size() && repeats; ++i) repeats = text[i] == text[i - period];
        guessed = guessed || repeats;
    }
    for (const int step : {1, -1}) {
        bool counts = true;
        for (std::size_t i = 1; i < text.size() && counts; ++i)
            counts = text[i] - text[i - 1] == step || (text[i] == '0' && text[i - 1] == '9');
        guessed = guessed || counts;
    }
    for (const std::string_view row : rows) guessed = guessed || row.find(text) != std::string_view::npos;
    // A word that everybody begins with, and digits or marks behind it.
    for (const std::string_view word : first_tried) {
        if (!text.starts_with(word)) continue;
        guessed = guessed ||
                  std::none_of(
                      text.begin() + static_cast<std::ptrdiff_t>(word.size()), text.end(),
                      [](char c) { return (c >= 'a' && c <= 'z') || static_cast<unsigned char>(c) > 127; });
    }
    sodium_memzero(text.data(), text.size());
    return guessed;
}

}  // namespace tipwright::seal
