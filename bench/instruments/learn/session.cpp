#include "bench/instruments/learn/session.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <set>
#include <span>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

#include "bench/instruments/learn/modem_wiring.hpp"
#include "bench/instruments/learn/recognise.hpp"
#include "bench/instruments/modbus/profile.hpp"

namespace tipwright::bench {

namespace {

constexpr double look_s = 3;              // for what comes unasked
constexpr double question_pause_s = 0.5;  // between two questions of the request
constexpr double quiet_s = 0.3;           // an answer is whole when nothing came for so long
constexpr std::size_t lines_wanted = 12;
constexpr double patience = 5;  // times watch_s, for a balance that is slow to print
constexpr std::size_t lines_of_a_fit = 3;

// The end that reads; outlives the session until the link is closed.
struct Reader {
    std::unique_ptr<Link> link;
    Clock& clock;
    std::vector<TimedBytes> pieces;
    bool lost = false;

    static Task<void> run(std::shared_ptr<Reader> self) {
        std::vector<std::byte> buffer(4096);
        while (true) {
            const Result<std::size_t> got = co_await self->link->read_some(buffer);
            if (!got) break;
            self->pieces.push_back(
                {self->clock.now_s(), std::string(reinterpret_cast<const char*>(buffer.data()), *got)});
        }
        self->lost = true;
    }
    std::string bytes() const {
        std::string out;
        for (const TimedBytes& piece : pieces) out += piece.bytes;
        return out;
    }
    std::size_t lines() const {
        const std::string all = bytes();
        return static_cast<std::size_t>(
            std::count_if(all.begin(), all.end(), [&, before = ' '](char c) mutable {
                const bool ends = (c == '\r' || c == '\n') && before != '\r' && before != '\n';
                before = c;
                return ends;
            }));
    }
};

std::optional<double> positive(const std::string& text) {
    double value = 0;
    const auto [end, wrong] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (wrong != std::errc() || end != text.data() + text.size() || !(value > 0 && value < 1e9))
        return std::nullopt;
    return value;
}

struct Deed {
    Situation situation;
    const char* words;
};
constexpr std::array<Deed, 4> deeds{
    {{Situation::empty, "1 of 4: nothing on the pan but what always stands on it. Press Enter, and wait."},
     {Situation::known_mass, "2 of 4: put the mass on. Press Enter when it is on, and wait."},
     {Situation::moving,
      "3 of 4: press Enter, then push the pan with a finger again and again until told to stop."},
     {Situation::overload,
      "4 of 4: press the pan down until the display shows overload; hold it there and press Enter. If that "
      "is not allowed, type n."}}};

}  // namespace

class LearningSession {
public:
    LearningSession(std::shared_ptr<Reader> reader, Clock& clock, boost::asio::io_context& context,
                    LearnPerson& person, LearnPlan& plan)
        : reader_(std::move(reader)), clock_(clock), context_(context), person_(person), plan_(plan) {}

    Task<Result<LearnedProfile>> run() {
        if (!plan_.request.question.empty() && !plan_.own)
            co_return Fault{FaultCode::not_permitted,
                            "nobody has confirmed that the instrument is not a pump", "listen --learn", ""};
        if (!plan_.role) {
            const std::vector<std::string> kinds{"balance", "pump", "climate sensor",
                                                 "tip counter or contacts"};
            const auto role = co_await choose("What is connected to this link?", kinds);
            if (!role) co_return role.fault();
            plan_.role = std::array{Role::balance, Role::pump, Role::climate, Role::counter}[*role];
        }
        if (*plan_.role == Role::counter && reader_->link->modem_lines() != nullptr)
            co_return co_await learn_modem_wiring(*reader_->link->modem_lines(), clock_, context_, person_);
        std::erase_if(plan_.known, [&](const InstrumentProfile& one) { return one.role != *plan_.role; });
        // Frames last: what reads lines would take their bytes for the beginning of the next line.
        std::stable_partition(plan_.known.begin(), plan_.known.end(), [](const InstrumentProfile& one) {
            return one.of<ModbusProfile>() == nullptr;
        });
        const auto fits = co_await fitting();
        if (!fits) co_return fits.fault();
        if (!fits->empty()) co_return co_await as_known(*fits);
        if (*plan_.role == Role::balance) co_return co_await watch_balance();
        if (reader_->pieces.empty() && !heard_)
            co_return Fault{FaultCode::no_answer, "nothing came, whatever was asked", "listen --learn",
                            "check power, cable and line speed"};
        co_return Fault{FaultCode::garbled_answer,
                        "it fits none of the profiles here, and only balances can be learned anew",
                        "listen --learn", "write its profile by templates/instruments/README.md"};
    }

private:
    // The profiles that read everything that comes: unasked, or after their question.
    Task<Result<std::vector<std::size_t>>> fitting() {
        std::vector<std::size_t> fits;
        person_.say("Listening for what comes by itself.");
        co_await clock_.sleep_for(look_s);
        if (reader_->lost) co_return gone();
        if (*plan_.role == Role::counter) {
            person_.say("Tip the gauge by hand a few times, or close a contact; then press Enter.");
            const auto done = co_await person_.answer();
            if (!done) co_return nobody();
        }
        const std::string came = reader_->bytes();
        heard_ = !came.empty();
        speaks_unasked_ = heard_;
        if (heard_) {
            for (std::size_t i = 0; i < plan_.known.size(); ++i)
                if (!question_of(plan_.known[i]) && fit_of(plan_.known[i], "", came).whole(lines_of_a_fit))
                    fits.push_back(i);
            co_return fits;
        }
        if (!plan_.request.question.empty()) co_return fits;
        person_.say(
            "Nothing comes by itself. Asking the questions of the profiles here: they read, and set "
            "nothing.");
        std::set<std::string> asked;
        for (const InstrumentProfile& one : plan_.known) {
            const auto question = question_of(one);
            if (!question || !asked.insert(question->bytes).second) continue;
            const std::string answer = co_await ask(*question);
            heard_ = heard_ || !answer.empty();
            for (std::size_t i = 0; i < plan_.known.size(); ++i) {
                const auto same = question_of(plan_.known[i]);
                if (same && same->bytes == question->bytes &&
                    fit_of(plan_.known[i], same->bytes, answer).whole())
                    fits.push_back(i);
            }
            if (!fits.empty()) break;
        }
        co_return fits;
    }

    Task<std::string> ask(const ProfileQuestion& question) {
        reader_->pieces.clear();
        const Outcome sent =
            co_await reader_->link->write(SendRight(), std::as_bytes(std::span(question.bytes)));
        if (!sent) co_return "";
        const double end_s = clock_.now_s() + question.wait_s;
        while (clock_.now_s() < end_s && !reader_->lost) {
            co_await clock_.sleep_for(0.05);
            if (!reader_->pieces.empty() && clock_.now_s() - reader_->pieces.back().time_s > quiet_s) break;
        }
        co_return reader_->bytes();
    }

    Task<Result<LearnedProfile>> as_known(const std::vector<std::size_t>& fits) {
        std::size_t which = 0;
        if (fits.size() > 1) {
            std::vector<std::string> names;
            names.reserve(fits.size());
            for (const std::size_t i : fits)
                names.push_back(name_of_profile(i) + ": " + plan_.known[i].title);
            const auto chosen = co_await choose(
                "Its answer fits more than one profile. Its manual says which of them it is:", names);
            if (!chosen) co_return chosen.fault();
            which = *chosen;
        }
        const InstrumentProfile& profile = plan_.known[fits[which]];
        LearnedProfile out;
        out.as = name_of_profile(fits[which]);
        out.toml = "# As " + out.as + ", which read everything that came. Its words and comments follow.\n" +
                   profile.text.text;
        const std::string came = reader_->bytes();
        const auto question = question_of(profile);
        const ProfileFit fit = fit_of(profile, question ? question->bytes : "", came);
        out.understood = fit.understood;
        out.lines = fit.understood + fit.not_understood;
        co_return out;
    }

    std::string name_of_profile(std::size_t i) const {
        std::string name = plan_.known[i].text.name;
        if (const auto slash = name.rfind('/'); slash != std::string::npos) name.erase(0, slash + 1);
        if (name.ends_with(".toml")) name.erase(name.size() - 5);
        return name;
    }

    Task<Result<LearnedProfile>> watch_balance() {
        if (!heard_ && plan_.request.question.empty())
            co_return Fault{
                FaultCode::no_answer, "nothing came, whatever was asked", "listen --learn",
                "check power, cable and line speed; give the question of its manual: --send 'W\\r'"};
        if (speaks_unasked_) plan_.request.question.clear();
        person_.say("No profile here reads it. It is learned from four things that you do.");
        if (!(plan_.request.mass_g > 0)) {
            person_.say("Which mass will you put on, in grams? Any that is known to 1 %.");
            const auto text = co_await person_.answer();
            if (!text) co_return nobody();
            const auto mass = positive(*text);
            if (!mass)
                co_return Fault{FaultCode::bad_value, in_quotes(*text) + " is not a mass in grams", "mass",
                                "give a number as 500 or 499.98"};
            plan_.request.mass_g = *mass;
        }
        std::vector<Watched> watched;
        for (const Deed& deed : deeds) {
            person_.say(deed.words);
            const auto word = co_await person_.answer();
            if (!word) co_return nobody();
            if (deed.situation == Situation::overload && !word->empty() && (*word)[0] == 'n') continue;
            std::vector<TimedBytes> came = co_await watch();
            watched.push_back({deed.situation, std::move(came)});
            if (reader_->lost) co_return gone();
            person_.say("Thank you.");
        }
        auto draft = learn_balance(watched, plan_.request);
        if (draft && draft->numbers.size() > 1) {
            std::vector<std::string> texts;
            for (const std::size_t number : draft->numbers)
                texts.push_back("number " + std::to_string(number + 1) + " of a line as " + draft->example);
            const auto chosen = co_await choose(
                "More than one number rises by the mass (gross and net?). Which is the one on the "
                "display?",
                texts);
            if (!chosen) co_return chosen.fault();
            plan_.request.number = draft->numbers[*chosen];
            draft = learn_balance(watched, plan_.request);
        }
        if (!draft) co_return draft.fault();
        LearnedProfile out;
        out.toml = draft->toml;
        out.doubts = draft->doubts;
        out.lines = draft->lines;
        out.understood = draft->understood;
        co_return out;
    }

    // What comes while it is done; asked again and again where the balance wants to be asked.
    Task<std::vector<TimedBytes>> watch() {
        reader_->pieces.clear();
        const double begun_s = clock_.now_s();
        const std::string& question = plan_.request.question;
        const auto ending = plan_.request.question_ending;
        const std::string bytes = question + (ending == "CR"     ? "\r"
                                              : ending == "LF"   ? "\n"
                                              : ending == "CRLF" ? "\r\n"
                                                                 : "");
        while (!reader_->lost) {
            const double passed_s = clock_.now_s() - begun_s;
            if (passed_s >= plan_.watch_s &&
                (reader_->lines() >= lines_wanted || passed_s >= patience * plan_.watch_s))
                break;
            if (!question.empty()) {
                const Outcome sent =
                    co_await plan_.own->send(*reader_->link, std::as_bytes(std::span(bytes)));
                if (!sent) break;
            }
            co_await clock_.sleep_for(question_pause_s);
        }
        co_return reader_->pieces;
    }

    Task<Result<std::size_t>> choose(const char* what, const std::vector<std::string>& among) {
        std::string text = what;
        for (std::size_t i = 0; i < among.size(); ++i)
            text += "\n  " + std::to_string(i + 1) + "  " + among[i];
        person_.say(text);
        for (int attempt = 0; attempt < 3; ++attempt) {
            const auto word = co_await person_.answer();
            if (!word) co_return nobody();
            const auto number = positive(*word);
            if (number && *number == std::floor(*number) && *number <= static_cast<double>(among.size()))
                co_return static_cast<std::size_t>(*number) - 1;
            person_.say("Type a number from 1 to " + std::to_string(among.size()) + ".");
        }
        co_return nobody();
    }

    static Fault nobody() {
        return {FaultCode::interrupted, "no answer came from the person", "listen --learn",
                "nothing was written; begin again beside the instrument"};
    }
    static Fault gone() {
        return {FaultCode::link_lost, "the link was lost", "listen --learn",
                "nothing was written; begin again"};
    }

    std::shared_ptr<Reader> reader_;
    Clock& clock_;
    boost::asio::io_context& context_;
    LearnPerson& person_;
    LearnPlan& plan_;
    bool heard_ = false;
    bool speaks_unasked_ = false;
};

Task<Result<LearnedProfile>> learn_instrument(std::unique_ptr<Link> link, Clock& clock,
                                              boost::asio::io_context& context, LearnPerson& person,
                                              LearnPlan plan) {
    const auto reader = std::make_shared<Reader>(Reader{std::move(link), clock, {}, false});
    boost::asio::co_spawn(context, Reader::run(reader), boost::asio::detached);
    LearningSession session(reader, clock, context, person, plan);
    Result<LearnedProfile> out = co_await session.run();
    reader->link->close();
    co_return out;
}

}  // namespace tipwright::bench
