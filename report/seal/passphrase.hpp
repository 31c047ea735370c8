// Passphrase: text that opens the signing key. Held in memory that is locked against swapping where the
// system allows (memory_can_be_locked), kept out of cores, between guard pages; wiped when it goes; never
// copied, printed or logged. The program reads it from a terminal, file or descriptor and hands it over.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

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

// False where the system locks no memory for this program (ulimit -l): what it holds may be written to the
// disk with memory that is swapped out.
bool memory_can_be_locked();

// One character over and over, a short piece repeated, letters or digits in a row up or down, too few
// different characters, or nothing but words that are tried first, with digits and marks anywhere: what
// everybody begins with, this program's name, and `names`, of who sets it and of the laboratory.
bool easily_guessed(std::string_view passphrase, const std::vector<std::string>& names = {});

}  // namespace tipwright::seal
