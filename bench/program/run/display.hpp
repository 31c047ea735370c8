// Display: what is said to those who stand beside the bench while water may flow. A thread of its own writes
// it, so that a terminal that takes no more (Ctrl-S), a reader that went away or a full disk never hold up
// whoever speaks. What cannot be written is dropped, and told once by trouble() for the journal; what matters
// most is then tried on standard error. Holds no lock of the standard streams.
#pragma once

#include <cstdio>
#include <memory>
#include <optional>
#include <string>

namespace tipwright::program {

class Display {
public:
    // Both belong to the caller: where words go, and where urgent ones go as well when those do not arrive.
    explicit Display(int descriptor, int other = -1);
    Display(const Display&) = delete;
    Display& operator=(const Display&) = delete;
    ~Display();
    // Waits for what is still to be written, not longer than a second.
    void flush();
    // No more will be said. Waits for what is still to be written, not longer than a second.
    void finish();

    // For printf; unbuffered, and of no terminal. Belongs to the display.
    std::FILE* stream() { return stream_; }
    bool is_terminal() const;
    std::size_t width() const;  // as line_width

    void say(const std::string& text);
    // What must reach somebody.
    void cry(const std::string& text);

    // Why words did not arrive, in a sentence; once.
    std::optional<std::string> trouble();
    // Something was never written.
    bool lost_words() const;

private:
    struct Shared;
    std::shared_ptr<Shared> shared_;  // the thread's too: one that hangs in a write outlives this
    std::FILE* stream_ = nullptr;
};

// A display lost words since the program began: its exit code says so.
bool any_display_lost_words();

}  // namespace tipwright::program
