// Asking device: one question at a time over a link, with time limit and retry. A question asked while
// another waits overtakes it, so that a stop is never held up: the earlier one ends with Fault interrupted.
// After a loss of the link, an instrument whose identity is known is asked for it before anything else is
// sent. One byte that was changed on the way convicts nobody: only two answers that agree do.
#pragma once

#include <algorithm>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bench/instruments/link_user.hpp"
#include "bench/instruments/stop_messages.hpp"

namespace tipwright::bench {

struct AskTimes {
    double answer_s = 1;  // longest wait for an answer
    int retries = 2;      // further attempts after the first
    double gap_s = 0;     // silence to keep on the line before a question
    double byte_s = 0;    // what a byte takes on the line: it is not silent while a question goes out
};

// What is asked, and what came of it. A family adds what it needs to know an answer by.
struct Question {
    std::string message;        // bytes to send
    std::string_view what;      // "the command to stop", for messages
    bool survives_loss = true;  // false: fails when the link is lost, and is never asked again after it
    bool stops = false;         // whoever answers there may be asked this
    bool answered = false;
    std::optional<std::string> refusal;
    std::string unread;  // what came instead of an answer
    bool preempted = false;
    bool proof = false;  // the question who it is, on a link that came back
    std::unique_ptr<Alarm> alarm;
};

class AskingDevice : public LinkUser {
public:
    // `stops`: of a pump, what stops it.
    AskingDevice(std::unique_ptr<Link> link, Clock& clock, std::string name, StopMessages stops = {})
        : LinkUser(std::move(link), clock, std::move(name)), stops_(std::move(stops)) {}
    // A question waits for its answer.
    bool asked() const { return waiting() != nullptr; }
    // As Instrument and Pump tell.
    Task<Result<std::string>> identify();
    Task<Outcome> check_identity();

protected:
    virtual Task<Result<std::string>> ask_identity() = 0;
    bool can_be_stopped() const { return !stops_.messages.empty(); }
    // Of a pump: its command to stop.
    virtual Task<Outcome> ask_to_stop() { co_return Done{}; }
    // Done once the question is answered; no_answer, garbled_answer, refused, link_lost, interrupted.
    Task<Outcome> ask(Question& question, AskTimes times);

    // The question that waits, or null.
    Question* waiting() const { return proof_ != nullptr ? proof_ : question_; }
    // By whoever sorts what comes in.
    void answer_came();
    void refusal_came(std::string reason);

    void note_line_busy(double for_s = 0) {
        busy_until_s_ = std::max(busy_until_s_, clock().now_s() + for_s);
    }
    void link_was_lost() override;
    void link_was_reopened() override;

private:
    Fault failure(const Question& question) const;
    void link_came_back() final;
    // Judged by the answers since the last one that was believed.
    enum class Verdict { open, own, strangers };
    Verdict judge(const std::string& answer);
    void convict(const std::string& answer);
    std::string noise_text() const;
    Fault differing() const;
    static Task<void> prove(std::shared_ptr<LinkUser> self);
    static Task<void> send_stops(std::shared_ptr<LinkUser> self, int losses_before);
    // The link is up, but whoever answers there is not known yet, or is being told to stop.
    bool held(const Question& question) const { return (proving_ || stopping_) && !question.proof; }
    // Whoever answers there is not, or perhaps not, the one it should be: no water is moved.
    std::optional<Fault> refused(const Question& question) const;

    Question* question_ = nullptr;
    Question* proof_ = nullptr;
    std::optional<std::string> identity_;
    std::vector<std::string> odd_;  // answers that are not the identity, as yet each of them once
    bool doubted_ = false;          // an odd one came by a link that was not lost; it was told to stop
    std::optional<Fault> stranger_;
    bool proving_ = false;
    bool next_is_proof_ = false;
    double busy_until_s_ = 0;
    StopMessages stops_;
    bool stopping_ = false;
    int losses_ = 0;  // of the link
};

}  // namespace tipwright::bench
