#include "bench/instruments/learn/modem_wiring.hpp"

#include <array>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

#include "calib/base/joined.hpp"

namespace tipwright::bench {

namespace {

constexpr double look_each_s = 0.002;  // a reed contact of a gauge is closed for some tens of milliseconds
constexpr std::array<const char*, modem_inputs> line_names{"CTS", "DSR", "DCD", "RI"};

struct Watch {
    explicit Watch(ModemLines& its_lines) : lines(its_lines) {}
    ModemLines& lines;
    bool over = false;  // `lines` may be gone
    std::optional<ModemStates> rest;
    std::array<int, modem_inputs> left_rest{};
    std::optional<Fault> fault;
};

Task<void> look_on(std::shared_ptr<Watch> watch, Clock& clock) {
    ModemStates before{};
    while (!watch->over) {
        const Result<ModemStates> now = watch->lines.states();
        if (!now) {
            watch->fault = now.fault();
            co_return;
        }
        if (!watch->rest) watch->rest = before = *now;
        for (std::size_t i = 0; i < modem_inputs; ++i)
            watch->left_rest[i] += (*now)[i] != before[i] && (*now)[i] != (*watch->rest)[i];
        before = *now;
        co_await clock.sleep_for(look_each_s);
    }
}

}  // namespace

Task<Result<LearnedProfile>> learn_modem_wiring(ModemLines& lines, Clock& clock,
                                                boost::asio::io_context& context, LearnPerson& person) {
    const Outcome fed = lines.set_outputs(true, false);
    if (!fed) co_return fed.fault();
    LearnedProfile out;
    out.toml =
        "# Learned from contacts that somebody closed one after the other.\ntitle = \"Contacts on the modem "
        "inputs "
        "of a serial port\"\nfamily = \"modem-inputs\"\nrole = \"counter\"\nversion = \"1.0\"\n";
    for (int contact = 1; contact <= 2; ++contact) {
        const auto watch = std::make_shared<Watch>(lines);
        boost::asio::co_spawn(context, look_on(watch, clock), boost::asio::detached);
        person.say("Both contacts open: close and open contact " + std::to_string(contact) +
                   " alone a few times, then press Enter." +
                   (contact == 2 ? " If there is none, press Enter at once." : ""));
        const auto word = co_await person.answer();
        watch->over = true;
        if (!word)
            co_return Fault{FaultCode::interrupted, "no answer came from the person", "listen --learn",
                            "nothing was written; begin again beside the instrument"};
        if (watch->fault) co_return *watch->fault;
        std::string moved;
        std::size_t input = modem_inputs;
        for (std::size_t i = 0; i < modem_inputs; ++i) {
            if (watch->left_rest[i] == 0) continue;
            add_part(moved, line_names[i], ", ");
            input = i;
        }
        if (input == modem_inputs && contact == 2) break;
        if (input == modem_inputs)
            co_return Fault{FaultCode::no_answer, "no modem input moved", "listen --learn",
                            "check the wiring: the contact joins DTR to CTS, DSR, DCD or RI"};
        if (moved != line_names[input])
            co_return Fault{FaultCode::inconsistent, "more than one input moved: " + moved, "listen --learn",
                            "close one contact alone; see to the wiring"};
        const bool closed_when_on = !(*watch->rest)[input];
        out.toml += "\n[[contact]]                      # contact " + std::to_string(contact) +
                    "\ninput = \"" + moved + "\"                    # the one that moved, " +
                    std::to_string(watch->left_rest[input]) + " times\nclosed_when = \"" +
                    (closed_when_on ? "on\"               # it is off" : "off\"              # it is on") +
                    " while the contact is open\n";
        out.lines += static_cast<std::size_t>(watch->left_rest[input]);
        out.understood = out.lines;
    }
    out.toml +=
        "\n[supply]\ndtr = true                       # as it was while the inputs were watched\nrts = "
        "false\n";
    co_return out;
}

}  // namespace tipwright::bench
