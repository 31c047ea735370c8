#include "bench/instruments/line_ascii/device.hpp"

namespace tipwright::bench {

LineDevice::LineDevice(std::shared_ptr<const LineAsciiProfile> profile, std::unique_ptr<Link> link,
                       Clock& clock, std::string name, StopMessages stops)
    : AskingDevice(std::move(link), clock, std::move(name), std::move(stops)), profile_(std::move(profile)) {}

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
    auto* question = static_cast<LineQuestion*>(waiting());
    if (!question) {
        take_line(line, arrived_s);
    } else if (is_answer(*question->command, line, *question->values) ||
               is_reading(*question->command, line, arrived_s)) {
        question->answer.assign(line);
        answer_came();
    } else if (auto refusal = read_refusal(profile_->refusals, line)) {
        refusal_came(std::move(*refusal));
    } else if (!take_line(line, arrived_s)) {
        question->unread.assign(line);
    }
}

Task<Result<std::string>> LineDevice::exchange(const LineCommand& command, std::string_view what,
                                               SentValues values) {
    if (!command.send) {
        co_return Fault{FaultCode::inconsistent, "its profile has no entry for " + std::string(what), name(),
                        "add the command to the profile"};
    }
    LineQuestion question;
    question.message = command.send->print(values) + profile_->send_ending;
    question.what = what;
    question.command = &command;
    question.values = &values;
    question.survives_loss = command.survives_loss;
    question.stops = &command == &profile_->stop;
    const Outcome asked = co_await ask(question, times());
    if (!asked) co_return asked.fault();
    co_return std::move(question.answer);
}

Task<Result<std::string>> LineDevice::ask_identity() {
    Result<std::string> answer = co_await exchange(profile_->identify, "the question who it is");
    if (!answer) co_return answer.fault();
    FieldValues values;
    for (const Pattern& pattern : profile_->identify.answers) {
        if (pattern.match(*answer, values) && !pattern.fields().empty()) {
            co_return std::string(values[0].text);
        }
    }
    co_return std::move(*answer);
}

}  // namespace tipwright::bench
