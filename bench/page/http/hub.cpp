#include "bench/page/http/hub.hpp"

namespace tipwright::page {

std::shared_ptr<Listener> Hub::listen(const std::string& language) {
    if (listeners() >= most_listeners) return nullptr;
    auto listener = std::make_shared<Listener>(language);
    listeners_.push_back(listener);
    return listener;
}

std::size_t Hub::listeners() {
    std::erase_if(listeners_, [](const auto& one) { return one.expired(); });
    return listeners_.size();
}

std::size_t Hub::listeners(const std::string& language) {
    std::size_t count = 0;
    for (const auto& one : listeners_) {
        const auto listener = one.lock();
        count += listener && listener->language == language;
    }
    return count;
}

void Hub::send(const std::string& language, std::string event) {
    const auto shared = std::make_shared<const std::string>(std::move(event));
    for (const auto& one : listeners_) {
        const auto listener = one.lock();
        if (!listener || listener->language != language) continue;
        if (listener->waiting.size() >= most_waiting)
            listener->overrun = true;
        else
            listener->waiting.push_back(shared);
        if (listener->wake) listener->wake();
    }
}

std::string event_text(std::string_view name, std::string_view data) {
    return "event: " + std::string(name) + "\ndata: " + std::string(data) + "\n\n";
}

}  // namespace tipwright::page
