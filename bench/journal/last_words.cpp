#include "bench/journal/last_words.hpp"

#include <unistd.h>

#include <array>
#include <atomic>
#include <cstddef>

namespace tipwright::bench {

namespace {

constexpr int free_place = -1;

struct Place {
    std::atomic<int> descriptor{free_place};
};
std::array<Place, 64> places;

}  // namespace

LastWordsPlace::LastWordsPlace(int descriptor) {
    for (std::size_t i = 0; i < places.size(); ++i) {
        int expected = free_place;
        if (!places[i].descriptor.compare_exchange_strong(expected, descriptor)) continue;
        slot_ = static_cast<int>(i);
        return;
    }
}

LastWordsPlace::~LastWordsPlace() {
    if (slot_ >= 0) places[static_cast<std::size_t>(slot_)].descriptor.store(free_place);
}

void write_last_words(std::string_view words) {
    for (const Place& place : places) {
        const int descriptor = place.descriptor.load(std::memory_order_acquire);
        if (descriptor < 0) continue;
        static_cast<void>(!::write(descriptor, words.data(), words.size()));
        ::fdatasync(descriptor);
    }
}

}  // namespace tipwright::bench
