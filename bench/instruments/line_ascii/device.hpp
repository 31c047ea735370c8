// Line ASCII, device: asks, and tells the lines that come by what they are.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bench/instruments/asking_device.hpp"
#include "bench/instruments/line_ascii/protocol.hpp"

namespace tipwright::bench {

class LineDevice : public AskingDevice {
public:
    using SentValues = std::vector<std::pair<std::string_view, double>>;

    LineDevice(std::shared_ptr<const LineAsciiProfile> profile, std::unique_ptr<Link> link, Clock& clock,
               std::string name, StopMessages stops = {});

    // The line that answered the command; no_answer, garbled_answer, refused, link_lost, interrupted;
    // inconsistent when the profile has no such command.
    Task<Result<std::string>> exchange(const LineCommand& command, std::string_view what, SentValues values);
    Task<Result<std::string>> exchange(const LineCommand& command, std::string_view what) {
        return exchange(command, what, SentValues());
    }

protected:
    // The {text} of the pattern that matched.
    Task<Result<std::string>> ask_identity() override;
    const LineAsciiProfile& profile() const { return *profile_; }
    // Bytes that came and no line end after them yet.
    std::size_t unended_bytes() const { return unended_bytes_; }
    // A line that answers no command. False when it means nothing.
    virtual bool take_line(std::string_view line, double arrived_s);
    // With a command whose answer is a reading: is it this line?
    virtual bool is_reading(const LineCommand& command, std::string_view line, double arrived_s);
    AskTimes times() const { return {profile_->answer_s, profile_->retries, 0}; }

private:
    struct LineQuestion : Question {
        const LineCommand* command = nullptr;
        const SentValues* values = nullptr;
        std::string answer;
    };

    std::size_t take_bytes(std::span<const std::byte> bytes, double arrived_s) final;
    void sort_line(std::string_view line, double arrived_s);

    std::shared_ptr<const LineAsciiProfile> profile_;
    std::size_t unended_bytes_ = 0;
};

}  // namespace tipwright::bench
