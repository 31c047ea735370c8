#include "report/seal/passphrase.hpp"

#include <sodium.h>

namespace tipwright::seal {

Passphrase::Passphrase(std::string&& text) : text_(text) {
    sodium_memzero(text.data(), text.size());
    text.clear();
}

Passphrase::Passphrase(Passphrase&& other) noexcept : Passphrase(std::move(other.text_)) {}

Passphrase::~Passphrase() {
    sodium_memzero(text_.data(), text_.size());
}

}  // namespace tipwright::seal
