// Begins this program anew as a process of its own: in a session of its own, with none of our descriptors, so
// that it outlives whoever began it and no signal to our terminal reaches it.
#pragma once

#include <sys/types.h>

#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::program {

// What a child says goes into a file without a name, which goes with the last of us.
class Child {
public:
    // `words`: of the command line. `environment`: "NAME=VALUE", instead of those of that name. `secrets`:
    // each is given on a descriptor, from first_secret on. Fault: not_permitted.
    static constexpr int first_secret = 10;
    static Result<Child> begin(const std::vector<std::string>& words,
                               const std::vector<std::string>& environment = {},
                               const std::vector<std::string>& secrets = {});
    Child(Child&& other) noexcept;
    Child& operator=(Child&& other) noexcept;
    ~Child();

    pid_t process() const { return process_; }
    // True while it runs. Ends are taken up here.
    bool runs();
    // Waits for its end.
    void wait();
    // Of one that has ended: done with exit code 0, or what it said last. Fault: that line.
    Outcome outcome() const;
    std::string said() const;

private:
    Child() = default;
    pid_t process_ = -1;
    int said_ = -1;
    int status_ = 0;
    bool ended_ = false;
};

}  // namespace tipwright::program
