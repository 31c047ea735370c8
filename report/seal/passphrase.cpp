#include "report/seal/passphrase.hpp"

#include <sodium.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <new>
#include <set>
#include <utility>
#include <vector>

namespace tipwright::seal {

namespace {

constexpr std::size_t fewest_different = 5;
// Rows of keys, and of what everybody begins with. Common practice, no source.
constexpr std::array<std::string_view, 6> rows{"qwertyuiop", "qwertzuiop", "azertyuiop",
                                               "asdfghjkl",  "yxcvbnm",    "zxcvbnm"};
constexpr std::array<std::string_view, 7> first_tried{"password",
                                                      "passwort",
                                                      "passphrase",
                                                      "motdepasse",
                                                      "contrasena",
                                                      "contrase\xC3\xB1"
                                                      "a",
                                                      "tipwright"};
// Of a name; what is shorter, an initial or "of", is in many a good passphrase.
constexpr std::size_t shortest_word = 3;

std::string lower(std::string_view text) {
    std::string out(text);
    for (std::size_t i = 0; i < out.size(); ++i) {
        const auto byte = static_cast<unsigned char>(out[i]);
        if (out[i] >= 'A' && out[i] <= 'Z') out[i] = static_cast<char>(out[i] - 'A' + 'a');
        // The letters of Latin-1 in UTF-8, without the sign of multiplication.
        if (i > 0 && static_cast<unsigned char>(out[i - 1]) == 0xC3 && byte >= 0x80 && byte <= 0x9E &&
            byte != 0x97)
            out[i] = static_cast<char>(byte + 0x20);
    }
    return out;
}

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || static_cast<unsigned char>(c) > 127;
}

// Overwritten when it goes: it holds the passphrase.
struct WipedText {
    std::string text;
    explicit WipedText(std::string&& given) : text(std::move(given)) {}
    WipedText(const WipedText&) = delete;
    WipedText& operator=(const WipedText&) = delete;
    ~WipedText() { sodium_memzero(text.data(), text.size()); }
};

std::vector<std::string> words_of(const std::vector<std::string>& names) {
    std::vector<std::string> out(first_tried.begin(), first_tried.end());
    for (const std::string& name : names) {
        std::string whole;
        std::string word;
        const auto end_word = [&] {
            if (word.size() >= shortest_word) out.push_back(word);
            word.clear();
        };
        for (const char c : lower(name)) {
            if (!is_letter(c)) {
                end_word();
                continue;
            }
            word += c;
            whole += c;
        }
        end_word();
        if (whole.size() >= shortest_word) out.push_back(whole);
    }
    return out;
}

// Its letters, one after the other, are such words and nothing else.
bool made_of(std::string_view passphrase, const std::vector<std::string>& words) {
    WipedText letters{lower(passphrase)};
    std::erase_if(letters.text, [](char c) { return !is_letter(c); });
    const std::string_view text = letters.text;
    std::vector<bool> reached(text.size() + 1, false);
    reached[0] = true;
    for (std::size_t i = 0; i < text.size(); ++i)
        for (const std::string& word : words)
            if (reached[i] && text.substr(i).starts_with(word)) reached[i + word.size()] = true;
    return !text.empty() && reached.back();
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

bool memory_can_be_locked() {
    Passphrase probe = Passphrase::with_room(1);
    // sodium_malloc goes on without; to lock again what is locked already is no harm.
    return sodium_mlock(probe.room(), 1) == 0;
}

bool easily_guessed(std::string_view passphrase, const std::vector<std::string>& names) {
    const WipedText lowered{lower(passphrase)};
    const std::string& text = lowered.text;
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
    return guessed || made_of(passphrase, words_of(names));
}

}  // namespace tipwright::seal
