// Last words: what a crashing program still appends to the journals it holds, from within the signal handler,
// with calls that POSIX allows there (signal-safety(7)). They are no entry: a reader takes them for a torn
// tail, a person who looks into the file reads them, and going on by 'recover' cuts them off.
#pragma once

#include <string_view>

namespace tipwright::bench {

// An open journal; not noted beyond sixty-four at a time.
class LastWordsPlace {
public:
    explicit LastWordsPlace(int descriptor);
    LastWordsPlace(const LastWordsPlace&) = delete;
    LastWordsPlace& operator=(const LastWordsPlace&) = delete;
    // Before the descriptor is closed.
    ~LastWordsPlace();

private:
    int slot_ = -1;
};

// To every open journal, and to the disk.
void write_last_words(std::string_view words);

}  // namespace tipwright::bench
