// The shipped profiles, and the virtual instrument of each in the profile's own words, of which a person who
// knows what stands there makes a profile.
#pragma once

#include <string>
#include <vector>

#include "bench/descriptions/descriptions.hpp"
#include "bench/instruments/modem_contacts/instruments.hpp"
#include "bench/links/modem_lines.hpp"
#include "bench/virtual_bench/virtual_bench.hpp"
#include "tests/bench/virtual_kinds.hpp"
#include "tests/support/learning.hpp"
#include "tests/support/paths.hpp"

namespace tipwright::test {

inline std::string name_of(const bench::InstrumentProfile& profile) {
    const std::string& path = profile.text.name;
    const std::size_t slash = path.rfind('/');
    const std::string file = slash == std::string::npos ? path : path.substr(slash + 1);
    return file.substr(0, file.rfind(".toml"));
}

inline std::vector<bench::InstrumentProfile> shipped_profiles() {
    const std::string templates = source_dir() + "/templates";
    const auto entries =
        bench::list_templates(bench::TemplateKind::profile, templates,
                              [](const std::string& file) -> Result<std::string> { return file; });
    std::vector<bench::InstrumentProfile> out;
    if (!entries) return out;
    for (const auto& entry : *entries)
        if (auto profile = bench::load_profile(entry.name, templates)) out.push_back(std::move(*profile));
    return out;
}

// Four modem inputs of which two are wired to contacts that somebody closes when asked to.
class WiredInputs final : public bench::ModemLines {
public:
    Result<bench::ModemStates> states() override {
        bench::ModemStates now{};
        if (contact == 0) return now;
        ++looks;
        now[contact == 1 ? 0 : 1] = looks / 8 % 2 == 1;  // CTS, DSR; closed and opened again and again
        return now;
    }
    Outcome set_outputs(bool, bool) override { return Done{}; }
    bool can_wait() override { return false; }
    Result<bool> wait_for_change(const bench::ModemStates&) override { return false; }
    Result<bench::ModemCounts> counts() override { return bench::ModemCounts{}; }
    int contact = 0;
    int looks = 0;
};

class WiredLink final : public bench::Link {
public:
    WiredLink(std::unique_ptr<bench::Link> link, WiredInputs& inputs)
        : link_(std::move(link)), inputs_(inputs) {}
    std::string name() const override { return link_->name(); }
    bench::Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        return link_->read_some(into);
    }
    bench::Task<Outcome> write(bench::SendRight right, std::span<const std::byte> bytes) override {
        return link_->write(right, bytes);
    }
    void close() override { link_->close(); }
    bench::ModemLines* modem_lines() override { return &inputs_; }

private:
    std::unique_ptr<bench::Link> link_;
    WiredInputs& inputs_;
};

class WiringHelper final : public bench::LearnPerson {
public:
    WiringHelper(WiredInputs& inputs, bench::Clock& clock) : inputs_(inputs), clock_(clock) {}
    void say(const std::string& text) override {
        inputs_.contact = text.find("contact 2") == std::string::npos ? 1 : 2;
    }
    bench::Task<std::optional<std::string>> answer() override {
        co_await clock_.sleep_for(2);
        inputs_.contact = 0;
        co_return "";
    }

private:
    WiredInputs& inputs_;
    bench::Clock& clock_;
};

inline std::string wired_wrongly(const bench::InstrumentProfile& profile) {
    boost::asio::io_context context(1);
    const auto clock = bench::make_lockstep_clock(context);
    auto ends = bench::make_lockstep_pair(context, "port");
    WiredInputs inputs;
    WiringHelper person(inputs, *clock);
    Result<bench::LearnedProfile> out = Fault{FaultCode::inconsistent, "no end", "", ""};
    const auto learn = [&]() -> bench::Task<void> {
        bench::LearnPlan plan;
        plan.role = profile.role;
        out = co_await bench::learn_instrument(std::make_unique<WiredLink>(std::move(ends.first), inputs),
                                               *clock, context, person, std::move(plan));
        clock->stop();
    };
    boost::asio::co_spawn(context, learn, boost::asio::detached);
    clock->run();
    if (!out) return out.fault().line();
    const auto made = bench::parse_profile({"draft", out->toml});
    if (!made) return made.fault().line();
    const auto said = [&](const char* words) { return out->toml.find(words) != std::string::npos; };
    return said("input = \"CTS\"") && said("input = \"DSR\"") && !said("\"off\"") ? "" : out->toml;
}

// Empty when the profile that comes out is that of the device.
inline std::string taken_wrongly(const bench::InstrumentProfile& profile) {
    if (profile.of<bench::ModemContactsProfile>()) return wired_wrongly(profile);
    boost::asio::io_context context(1);
    const auto clock = bench::make_lockstep_clock(context);
    const VirtualKind kind = virtual_kinds().front();
    bench::VirtualBench bench(*clock, context, kind.gauge, kind.truth, bench::BenchTruth{},
                              calib::BenchMetrology{}, 3);
    const std::string role(bench::name_of(profile.role));
    bench.speak(role, profile);
    auto link = bench.take_link(role);
    bench.start();
    bench::LearnPlan plan;
    plan.role = profile.role;
    plan.known = shipped_profiles();
    // Two pumps that answer alike: the person knows from the manual which it is.
    struct Manual final : bench::LearnPerson {
        Manual(bench::Clock& its_clock, std::string its_title)
            : clock(its_clock), title(std::move(its_title)) {}
        bench::Clock& clock;
        std::string title;
        std::string last;
        void say(const std::string& text) override { last = text; }
        bench::Task<std::optional<std::string>> answer() override {
            co_await clock.sleep_for(8);
            const std::size_t at = last.find(": " + title);
            if (at == std::string::npos) co_return "";
            const std::size_t line = last.rfind('\n', at);
            co_return last.substr(line + 3, 1);
        }
    } manual(*clock, profile.title);
    Result<bench::LearnedProfile> out = Fault{FaultCode::inconsistent, "no end", "", ""};
    const auto learn = [&]() -> bench::Task<void> {
        out = co_await bench::learn_instrument(std::move(link), *clock, context, manual, std::move(plan));
        clock->stop();
    };
    boost::asio::co_spawn(context, learn, boost::asio::detached);
    clock->run();
    bench.stop();
    if (!out) return out.fault().line();
    return out->as == name_of(profile) ? "" : "taken for " + out->as;
}

}  // namespace tipwright::test
