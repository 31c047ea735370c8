#include "bench/instruments/line_ascii/device.hpp"

namespace tipwright::bench {

LineDevice::LineDevice(std::shared_ptr<const LineAsciiProfile> profile, std::unique_ptr<Link> link,
                       Clock& clock, std::string name)
    : LinkUser(std::move(link), clock, std::move(name)), profile_(std::move(profile)) {}

void LineDevice::link_was_lost() {
    if (question_) question_->alarm->ring();
}

bool LineDevice::take_line(std::string_view, double) {
    return false;
}

bool LineDevice::is_reading(const LineCommand&, std::string_view, double) {
    return false;
}

std::size_t LineDevice::take_bytes(std::span<const std::byte> bytes, double arrived_s) {
    std::size_t done = 0;
    while (true) {
        const LineFrame frame = next_line(bytes.subspan(done));
        done += frame.consumed;
        if (frame.kind == LineFrame::Kind::need_more) {
            unended_bytes_ = bytes.size() - done;
            return done;
        }
        sort_line(frame.kind == LineFrame::Kind::line ? frame.text : std::string_view("(a line without end)"),
                  arrived_s);
    }
}

void LineDevice::sort_line(std::string_view line, double arrived_s) {
    if (!question_) {
        take_line(line, arrived_s);
        return;
    }
    Question& question = *question_;
    if (is_answer(*question.command, line, *question.values) ||
        is_reading(*question.command, line, arrived_s)) {
        question.answer.emplace(line);
    } else if (auto refusal = read_refusal(profile_->refusals, line)) {
        question.refusal = std::move(refusal);
    } else {
        if (!take_line(line, arrived_s)) question.unread.assign(line);
        return;
    }
    question.alarm->ring();
}

Fault LineDevice::failure(const Question& question, std::string_view what) const {
    const std::string command(what);
    if (question.refusal) {
        return {FaultCode::refused, "refused " + command + ": " + in_quotes(*question.refusal), name(),
                "check the range the instrument allows, and its profile"};
    }
    if (!question.unread.empty()) {
        return {FaultCode::garbled_answer, "answered " + in_quotes(question.unread) + " to " + command,
                name(), "check line speed and parity, and the patterns of its profile"};
    }
    return {FaultCode::no_answer, "did not answer " + command, name(), "check power, cable and link"};
}

Task<Result<std::string>> LineDevice::exchange(const LineCommand& command, std::string_view what,
                                               SentValues values) {
    if (!command.send) {
        co_return Fault{FaultCode::inconsistent, "its profile has no entry for " + std::string(what), name(),
                        "add the command to the profile"};
    }
    Question question;
    question.command = &command;
    question.values = &values;
    question.alarm = clock().make_alarm();
    if (question_) {
        question_->overtaken = true;
        question_->alarm->ring();
    }
    question_ = &question;
    struct Withdraw {
        LineDevice& device;
        Question& asked;
        ~Withdraw() {
            if (device.question_ == &asked) device.question_ = nullptr;
        }
    } withdraw{*this, question};

    const std::string message = command.send->print(values) + profile_->send_ending;
    for (int attempt = 0; attempt <= profile_->retries; ++attempt) {
        question.refusal.reset();
        if (Outcome sent = send(message); !sent) co_return sent.fault();
        const double deadline_s = clock().now_s() + profile_->answer_s;
        bool in_time = true;
        while (in_time && !question.refusal) {
            if (question.answer) co_return std::move(*question.answer);
            if (lost()) co_return *lost();
            if (question.overtaken) {
                co_return Fault{FaultCode::interrupted, "a later command overtook " + std::string(what),
                                name(), ""};
            }
            in_time = co_await question.alarm->wait_until(deadline_s);
        }
    }
    if (question.answer) co_return std::move(*question.answer);
    co_return failure(question, what);
}

}  // namespace tipwright::bench
