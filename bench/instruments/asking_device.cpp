#include "bench/instruments/asking_device.hpp"

#include <algorithm>

#include "bench/instruments/identity_words.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {

namespace {

constexpr int longest_vote = 4;   // answers, of which no two agree, until that is told
constexpr int longest_proof = 3;  // after the link was lost
constexpr const char* stranger_remedy = "put the cables back as they were";

}  // namespace

void AskingDevice::link_was_lost() {
    ++losses_;
    stopping_ = false;
    if (proof_) proof_->alarm->ring();
    if (question_) question_->alarm->ring();
}

// A pump that was out of reach may be running. Whatever was asked of it meanwhile has failed; the first thing
// it hears when its link is back is to stop.
void AskingDevice::link_was_reopened() {
    stopping_ = can_be_stopped();
    if (stopping_) {
        spawn(send_stops(shared_from_this(), losses_));
    } else if (question_) {
        question_->alarm->ring();
    }
}

Task<void> AskingDevice::send_stops(std::shared_ptr<LinkUser> self, int losses_before) {
    auto& device = static_cast<AskingDevice&>(*self);
    for (const std::string& message : device.stops_.messages) {
        if (device.losses_ != losses_before) co_return;  // when it is back, another of these begins anew
        (void)device.send(message);
        if (device.stops_.pause_s > 0) co_await device.clock().sleep_for(device.stops_.pause_s);
    }
    if (device.losses_ != losses_before) co_return;
    device.stopping_ = false;
    if (device.question_) device.question_->alarm->ring();
}

void AskingDevice::answer_came() {
    waiting()->answered = true;
    waiting()->alarm->ring();
}

void AskingDevice::refusal_came(std::string reason) {
    waiting()->refusal = std::move(reason);
    waiting()->alarm->ring();
}

AskingDevice::Verdict AskingDevice::judge(const std::string& answer) {
    if (answer == identity_) return Verdict::own;
    const bool again = std::find(odd_.begin(), odd_.end(), answer) != odd_.end();
    if (identity_ && again) return Verdict::strangers;
    // Who cannot be mistaken for the one that runs is believed at once.
    if (!identity_ && (again || !can_be_stopped())) {
        identity_ = answer;
        std::erase(odd_, answer);
        return Verdict::own;
    }
    odd_.push_back(answer);
    return Verdict::open;
}

std::string AskingDevice::noise_text() const {
    return "answered " + instead_of(odd_.front(), *identity_) +
           " when it was asked who it is, and as ever when asked again";
}

Fault AskingDevice::differing() const {
    std::string answers;
    for (const std::string& one : odd_) add_part(answers, in_quotes(one), ", ");
    return {FaultCode::garbled_answer, "answered differently each time it was asked who it is: " + answers,
            name(), "check cable, line speed and parity, and the question who it is in its profile"};
}

void AskingDevice::convict(const std::string& answer) {
    const std::string what = "another instrument answers on its link: " + instead_of(answer, *identity_);
    odd_.clear();
    if (proving_ || !can_be_stopped()) return shut_out(what);
    // Its answers may be wrong, and the command to stop is right whoever it is: the link stays open for that.
    stranger_ = Fault{FaultCode::link_lost, what, name(), stranger_remedy};
    tell(LinkChange::stranger, what);
}

Task<Outcome> AskingDevice::check_identity() {
    if (asked()) co_return Done{};
    const Result<std::string> same = co_await identify();
    const bool told = same || same.fault().code == FaultCode::inconsistent;
    co_return told ? Outcome(Done{}) : Outcome(same.fault());
}

Task<Result<std::string>> AskingDevice::identify() {
    for (int asked = 0; asked < longest_vote; ++asked) {
        if (stranger_) co_return *stranger_;
        Result<std::string> answer = co_await ask_identity();
        if (!answer) co_return answer;
        const Verdict verdict = judge(*answer);
        if (verdict == Verdict::strangers) {
            // Plugged over at its far end, which closes nothing here.
            convict(*answer);
            co_return stranger_ ? *stranger_ : *lost();
        }
        if (verdict == Verdict::own) {
            if (odd_.empty() && !doubted_) co_return answer;
            std::string noise =
                odd_.empty() ? std::string("answered differently when it was asked who it is") : noise_text();
            odd_.clear();
            tell(LinkChange::noise, noise);
            if (!std::exchange(doubted_, false)) co_return answer;
            co_return Fault{FaultCode::garbled_answer, std::move(noise) + "; it was told to stop meanwhile",
                            name(), "check its cable for noise, line speed and parity; then go on"};
        }
        if (identity_ && !std::exchange(doubted_, true)) {
            const Outcome told = co_await ask_to_stop();
            // Somebody's own command to stop overtook it.
            if (!told && told.fault().code == FaultCode::interrupted) co_return told.fault();
        }
    }
    const Fault fault = differing();
    odd_.clear();
    co_return fault;
}

void AskingDevice::link_came_back() {
    if (!identity_) return admit(LinkChange::returned_unknown);
    proving_ = true;
    odd_.clear();
    spawn(prove(shared_from_this()));
}

Task<void> AskingDevice::prove(std::shared_ptr<LinkUser> self) {
    auto& device = static_cast<AskingDevice&>(*self);
    Verdict verdict = Verdict::open;
    for (int asked = 0; asked < longest_proof && verdict == Verdict::open; ++asked) {
        device.next_is_proof_ = true;  // taken by the question that ask_identity asks before it waits
        const Result<std::string> answer = co_await device.ask_identity();
        device.next_is_proof_ = false;
        if (device.lost()) {  // again: the next return asks again
            device.proving_ = false;
            co_return;
        }
        if (!answer) break;
        verdict = device.judge(*answer);
        if (verdict == Verdict::strangers) device.convict(*answer);
    }
    device.proving_ = false;
    if (verdict == Verdict::strangers) co_return;
    if (verdict == Verdict::own) {
        if (!device.odd_.empty()) device.tell(LinkChange::noise, device.noise_text());
        device.doubted_ = false;
        device.stranger_.reset();
    }
    device.odd_.clear();
    device.admit(verdict == Verdict::own ? LinkChange::returned : LinkChange::returned_unknown);
}

std::optional<Fault> AskingDevice::refused(const Question& question) const {
    if (stranger_ && !question.stops && !question.proof) return stranger_;
    if (doubted_ && !question.survives_loss)
        return Fault{FaultCode::garbled_answer,
                     "it is in doubt who answers on its link: " + std::string(question.what) + " is not sent",
                     name(), "check its cable"};
    return std::nullopt;
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
    if (auto no = refused(question)) co_return *no;
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
        if (times.gap_s > 0) co_await clock().sleep_until(busy_until_s_ + times.gap_s);
        question.refusal.reset();
        const bool can_be_said = !question.preempted && !lost() && !held(question);
        if (can_be_said) {
            if (Outcome sent = send(question.message); !sent) co_return sent.fault();
            note_line_busy(static_cast<double>(question.message.size()) * times.byte_s);
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
            if (!was_out || lost() || held(question)) continue;
            // It is spoken to again: ask now. What could not be said was no attempt.
            if (!can_be_said) --attempt;
            break;
        }
    }
    if (question.answered) co_return Done{};
    co_return failure(question);
}

}  // namespace tipwright::bench
