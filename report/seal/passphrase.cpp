#include "report/seal/passphrase.hpp"

#include <sodium.h>
#include <unicode/casemap.h>
#include <unicode/uchar.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstring>
#include <new>
#include <set>
#include <stdexcept>
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

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || static_cast<unsigned char>(c) > 127;
}

// Text in which capitals and small letters, of whatever script, are the same. Overwritten when it goes: it
// may hold the passphrase.
class Folded {
public:
    explicit Folded(std::string_view given) : text_(most_growth * given.size() + 1, '\0') {
        UErrorCode status = U_ZERO_ERROR;
        const int32_t size =
            icu::CaseMap::utf8Fold(U_FOLD_CASE_DEFAULT, given.data(), static_cast<int32_t>(given.size()),
                                   text_.data(), static_cast<int32_t>(text_.size()), nullptr, status);
        if (U_FAILURE(status)) throw std::runtime_error("ICU does not fold the case of a text");
        size_ = static_cast<std::size_t>(size);
    }
    Folded(const Folded&) = delete;
    Folded& operator=(const Folded&) = delete;
    ~Folded() { sodium_memzero(text_.data(), text_.size()); }

    std::string_view text() const { return {text_.data(), size_}; }
    void keep_letters() {
        const auto end = std::remove_if(text_.begin(), text_.begin() + static_cast<std::ptrdiff_t>(size_),
                                        [](char c) { return !is_letter(c); });
        size_ = static_cast<std::size_t>(end - text_.begin());
    }

private:
    // Bytes a byte: folded, two bytes of a Greek letter with two marks are six. A byte that is no UTF-8
    // becomes U+FFFD, which has three.
    static constexpr std::size_t most_growth = 3;

    std::string text_;
    std::size_t size_ = 0;
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
        const Folded folded(name);
        for (const char c : folded.text()) {
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
    Folded letters(passphrase);
    letters.keep_letters();
    const std::string_view text = letters.text();
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
    const Folded folded(passphrase);
    const std::string_view text = folded.text();
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
