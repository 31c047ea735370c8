// DescriptionText: the words of a description file and the name to call it by in messages.
// Kept whole so that the journal can carry it and be evaluated without the file.
#pragma once

#include <string>

namespace tipwright::bench {

struct DescriptionText {
    std::string name;  // file as the user gave it, or template as folder/name.toml
    std::string text;
};

}  // namespace tipwright::bench
