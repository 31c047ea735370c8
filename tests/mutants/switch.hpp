// Which mistake this process is to make, and which it came by. Only the copies that tests/mutants.sh builds
// include it.
#pragma once

#include <fcntl.h>
#include <sys/mman.h>
#include <unistd.h>

#include <cstdlib>

namespace tipwright::mutants {

inline constexpr int numbers = 1 << 20;

struct Switch {
    // TIPWRIGHT_MUTANT: the mistake's number. TIPWRIGHT_MUTANTS_REACHED: a file of a byte for each number,
    // which child processes share; without it what was come by is forgotten.
    Switch() {
        if (const char* number = std::getenv("TIPWRIGHT_MUTANT")) chosen = std::atoi(number);
        if (const char* path = std::getenv("TIPWRIGHT_MUTANTS_REACHED")) {
            const int file = ::open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
            if (file >= 0 && ::ftruncate(file, numbers) == 0) {
                void* shared = ::mmap(nullptr, numbers, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
                if (shared != MAP_FAILED) reached = static_cast<unsigned char*>(shared);
            }
            if (file >= 0) ::close(file);
        }
    }

    int chosen = -1;
    unsigned char* reached = nullptr;
};

inline Switch& the_switch() {
    static Switch one;
    return one;
}

inline bool made(int number) {
    const Switch& one = the_switch();
    if (one.reached != nullptr) one.reached[number] = 1;
    return number == one.chosen;
}

}  // namespace tipwright::mutants
