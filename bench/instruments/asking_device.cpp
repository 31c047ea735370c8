#include "bench/instruments/asking_device.hpp"

namespace tipwright::bench {

void AskingDevice::link_was_lost() {
    if (proof_) proof_->alarm->ring();
    if (question_) question_->alarm->ring();
}

void AskingDevice::link_was_reopened() {
    if (question_) question_->alarm->ring();
}

void AskingDevice::answer_came() {
    waiting()->answered = true;
    waiting()->alarm->ring();
}

void AskingDevice::refusal_came(std::string reason) {
    waiting()->refusal = std::move(reason);
    waiting()->alarm->ring();
}

std::string AskingDevice::stranger_text(const std::string& answer) const {
    return "another instrument answers on its link: " + in_quotes(answer) + " instead of " +
           in_quotes(*identity_);
}

Task<Result<std::string>> AskingDevice::identify() {
    Result<std::string> answer = co_await ask_identity();
    if (!answer) co_return answer;
    if (!identity_) identity_ = *answer;
    if (*answer == *identity_) co_return answer;
    // Plugged over at its far end, which closes nothing here.
    shut_out(stranger_text(*answer));
    co_return *lost();
}

void AskingDevice::link_came_back() {
    if (!identity_) return admit(LinkChange::returned_unknown);
    proving_ = true;
    spawn(prove(shared_from_this()));
}

Task<void> AskingDevice::prove(std::shared_ptr<LinkUser> self) {
    auto& device = static_cast<AskingDevice&>(*self);
    device.next_is_proof_ = true;  // taken by the question that ask_identity asks before it waits
    const Result<std::string> answer = co_await device.ask_identity();
    device.next_is_proof_ = false;
    device.proving_ = false;
    if (device.lost()) co_return;  // again: the next return asks again
    if (answer && *answer != *device.identity_) {
        device.shut_out(device.stranger_text(*answer));
        co_return;
    }
    device.admit(answer ? LinkChange::returned : LinkChange::returned_unknown);
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
    question.proof = std::exchange(next_is_proof_, false);
    Question*& place = question.proof ? proof_ : question_;
    if (place) {
        place->preempted = true;
        place->alarm->ring();
    }
    place = &question;
    struct Withdraw {
        Question*& place;
        Question& asked;
        ~Withdraw() {
            if (place == &asked) place = nullptr;
        }
    } withdraw{place, question};

    for (int attempt = 0; attempt <= times.retries; ++attempt) {
        if (times.gap_s > 0) co_await clock().sleep_until(last_busy_s_ + times.gap_s);
        question.refusal.reset();
        if (!question.preempted && !lost() && !held(question)) {
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
            if (lost() && !(reopening() && question.survives_loss && !question.proof)) co_return *lost();
            const bool was_out = lost().has_value() || held(question);
            in_time = co_await question.alarm->wait_until(deadline_s);
            if (was_out && !lost() && !held(question)) break;  // it is spoken to again: ask now
        }
    }
    if (question.answered) co_return Done{};
    co_return failure(question);
}

}  // namespace tipwright::bench
