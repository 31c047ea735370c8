#include "bench/instruments/asking_device.hpp"

namespace tipwright::bench {

void AskingDevice::link_was_lost() {
    if (question_) question_->alarm->ring();
}

void AskingDevice::link_was_reopened() {
    if (question_) question_->alarm->ring();
}

void AskingDevice::answer_came() {
    question_->answered = true;
    question_->alarm->ring();
}

void AskingDevice::refusal_came(std::string reason) {
    question_->refusal = std::move(reason);
    question_->alarm->ring();
}

Fault AskingDevice::failure(const Question& question) const {
    const std::string what(question.what);
    if (lost()) return *lost();
    if (question.refusal) {
        return {FaultCode::refused, "refused " + what + ": " + in_quotes(*question.refusal), name(),
                "check the range the instrument allows, and its profile"};
    }
    if (!question.unread.empty()) {
        return {FaultCode::garbled_answer, "answered " + in_quotes(question.unread) + " to " + what, name(),
                "check line speed and parity, and the patterns of its profile"};
    }
    return {FaultCode::no_answer, "did not answer " + what, name(), "check power, cable and link"};
}

Task<Outcome> AskingDevice::ask(Question& question, AskTimes times) {
    question.alarm = clock().make_alarm();
    if (question_) {
        question_->preempted = true;
        question_->alarm->ring();
    }
    question_ = &question;
    struct Withdraw {
        AskingDevice& device;
        Question& asked;
        ~Withdraw() {
            if (device.question_ == &asked) device.question_ = nullptr;
        }
    } withdraw{*this, question};

    for (int attempt = 0; attempt <= times.retries; ++attempt) {
        if (times.gap_s > 0) co_await clock().sleep_until(last_busy_s_ + times.gap_s);
        question.refusal.reset();
        if (!question.preempted && !lost()) {
            if (Outcome sent = send(question.message); !sent) co_return sent.fault();
            note_line_busy();
        }
        const double deadline_s = clock().now_s() + times.answer_s;
        bool in_time = true;
        while (in_time && !question.refusal) {
            if (question.answered) co_return Done{};
            if (question.preempted) {
                co_return Fault{FaultCode::interrupted,
                                "a later command overtook " + std::string(question.what), name(), ""};
            }
            if (lost() && !(reopening() && question.survives_loss)) co_return *lost();
            const bool was_lost = lost().has_value();
            in_time = co_await question.alarm->wait_until(deadline_s);
            if (was_lost && !lost()) break;  // the link is up again: ask now
        }
    }
    if (question.answered) co_return Done{};
    co_return failure(question);
}

}  // namespace tipwright::bench
