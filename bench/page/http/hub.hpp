// Hub: hands events (text/event-stream of the HTML standard) to every browser that listens, by language. A
// listener that takes nothing is let go rather than waited for. One thread.
#pragma once

#include <deque>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace tipwright::page {

class Listener {
public:
    explicit Listener(std::string language_wanted) : language(std::move(language_wanted)) {}
    const std::string language;
    std::deque<std::shared_ptr<const std::string>> waiting;
    bool overrun = false;        // took too little: to be let go
    std::function<void()> wake;  // set by whoever writes to the browser
};

class Hub {
public:
    static constexpr std::size_t most_listeners = 64;
    static constexpr std::size_t most_waiting = 256;

    // Null: there are too many.
    std::shared_ptr<Listener> listen(const std::string& language);
    void send(const std::string& language, std::string event);
    std::size_t listeners();
    std::size_t listeners(const std::string& language);

private:
    std::vector<std::weak_ptr<Listener>> listeners_;
};

// "event: NAME\ndata: DATA\n\n"; data is one line.
std::string event_text(std::string_view name, std::string_view data);

}  // namespace tipwright::page
