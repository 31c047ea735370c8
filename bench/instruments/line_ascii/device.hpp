// Line ASCII, device: asks with time limit and retry, and tells the lines that come by what they are.
// A command given while another waits for its answer overtakes it, so that a stop is never held up: the
// earlier one ends with Fault interrupted.
#pragma once

#include <deque>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/link_user.hpp"

namespace tipwright::bench {

class LineDevice : public LinkUser {
public:
    using SentValues = std::vector<std::pair<std::string_view, double>>;

    LineDevice(std::shared_ptr<const LineAsciiProfile> profile, std::unique_ptr<Link> link, Clock& clock,
               std::string name);

    // The line that answered the command; no_answer, garbled_answer, refused, link_lost, interrupted;
    // inconsistent when the profile has no such command.
    Task<Result<std::string>> exchange(const LineCommand& command, std::string_view what, SentValues values);
    Task<Result<std::string>> exchange(const LineCommand& command, std::string_view what) {
        return exchange(command, what, SentValues());
    }

protected:
    const LineAsciiProfile& profile() const { return *profile_; }
    // Bytes that came and no line end after them yet.
    std::size_t unended_bytes() const { return unended_bytes_; }
    // A line that answers no command. False when it means nothing.
    virtual bool take_line(std::string_view line, double arrived_s);
    // With a command whose answer is a reading: is it this line?
    virtual bool is_reading(const LineCommand& command, std::string_view line, double arrived_s);
    void link_was_lost() override;

private:
    struct Question {
        const LineCommand* command = nullptr;
        const SentValues* values = nullptr;
        std::optional<std::string> answer;
        std::optional<std::string> refusal;
        std::string unread;  // a line that came instead of an answer
        bool overtaken = false;
        std::unique_ptr<Alarm> alarm;
    };

    std::size_t take_bytes(std::span<const std::byte> bytes, double arrived_s) final;
    void sort_line(std::string_view line, double arrived_s);
    Fault failure(const Question& question, std::string_view what) const;

    std::shared_ptr<const LineAsciiProfile> profile_;
    Question* question_ = nullptr;
    std::size_t unended_bytes_ = 0;
};

}  // namespace tipwright::bench
