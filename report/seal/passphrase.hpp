// Passphrase: text that opens the signing key. Held in memory that is locked against swapping where the
// system allows, kept out of cores, between guard pages; wiped when it goes; never copied, printed or logged.
// The program reads it from a terminal, file or descriptor and hands it over.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace tipwright::seal {

class Passphrase {
public:
    // Takes the text over and wipes what the caller held.
    explicit Passphrase(std::string&& text);
    // Room of so many bytes, to be filled in place; the text is what resize() says, at first nothing.
    static Passphrase with_room(std::size_t bytes);
    ~Passphrase();
    Passphrase(Passphrase&& other) noexcept;
    Passphrase& operator=(Passphrase&&) = delete;
    std::string_view text() const { return {bytes_, size_}; }
    char* room() { return bytes_; }
    void resize(std::size_t size) { size_ = size; }

private:
    Passphrase() = default;
    char* bytes_ = nullptr;
    std::size_t size_ = 0;
};

// One character over and over, a short piece repeated, letters or digits in a row up or down, or too few
// different characters: what is tried first.
bool easily_guessed(std::string_view passphrase);

}  // namespace tipwright::seal
