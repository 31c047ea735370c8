// Pairing: which devices may see the page over a network. A device shows the code that stands on the
// terminal, once, and is known from then on by the word in its cookie, of which only a digest is kept. Each
// code pairs one device. One thread.
#pragma once

#include <chrono>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::page {

struct PairedDevice {
    std::string name;
    std::string paired_at;  // UTC
    std::string digest;     // of its word, hex
};
// The list as it is kept between starts. Fault: damaged.
std::string devices_text(const std::vector<PairedDevice>& devices);
Result<std::vector<PairedDevice>> read_devices(const std::string& text, const std::string& where);

class Pairing {
public:
    using Time = std::chrono::steady_clock::time_point;
    static constexpr std::size_t most_devices = 64;  // beyond it the one paired first goes
    static constexpr std::size_t longest_name = 60;
    // Wrong codes from one address, and from all together, before everybody there has to wait.
    static constexpr std::size_t wrong_allowed = 10;
    static constexpr std::size_t wrong_allowed_together = 60;
    static constexpr std::chrono::minutes wrong_within{10};

    enum class Answer { paired, wrong, wait };
    struct Tried {
        Answer answer = Answer::wrong;
        std::string word;  // for the cookie, when it is paired
    };
    // Keeps the list; what it cannot keep is not paired.
    using Keep = std::function<Outcome(const std::vector<PairedDevice>&)>;
    // Told of a device that was paired, and of the code for the next.
    using Told = std::function<void(const PairedDevice&, const std::string& code)>;

    Pairing(std::vector<PairedDevice> known, Keep keep, Told told);

    // "ABCD-EFGH": 40 bits, without letters that are taken for one another.
    const std::string& code() const { return code_; }
    // What it is called; nothing: it is not paired.
    std::optional<std::string> device_of(const std::string& word) const;
    // `from`: its address; `at`: UTC. Fault: that of storing it.
    Result<Tried> pair(const std::string& code, const std::string& name, const std::string& from,
                       const std::string& at, Time now);

private:
    std::vector<PairedDevice> devices_;
    Keep keep_;
    Told told_;
    std::string code_;
    std::map<std::string, std::deque<Time>> wrong_;
    std::deque<Time> wrong_together_;
};

}  // namespace tipwright::page
