// What a record of supplied data says of its method and of what was assumed is written by bench/supplied and
// bench/program/results/evaluate_supplied.cpp, in English: here in the language of the document. What a
// person wrote stays as it is.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

// The program's own sentences and halves of sentences; their translations stand in [translated].
std::span<const std::string_view> supplied_sentences();

// The text, each of the program's own sentences in it translated.
std::string supplied_words(const Words& words, std::string text);

}  // namespace tipwright::report::certificate
