// Passphrase: text that opens the signing key. Wiped from memory when it goes; never copied, printed or
// logged. The program reads it from a terminal, file or environment and hands it over.
#pragma once

#include <string>
#include <string_view>

namespace tipwright::seal {

class Passphrase {
public:
    // Takes the text over and wipes what the caller held.
    explicit Passphrase(std::string&& text);
    ~Passphrase();
    Passphrase(Passphrase&& other) noexcept;
    Passphrase& operator=(Passphrase&&) = delete;
    std::string_view text() const { return text_; }

private:
    std::string text_;
};

}  // namespace tipwright::seal
