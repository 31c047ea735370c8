#include "bench/instruments/learn/recognise.hpp"

#include <algorithm>
#include <span>

#include "bench/instruments/interpret.hpp"
#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/modbus/profile.hpp"
#include "bench/instruments/modbus/protocol.hpp"
#include "bench/instruments/scpi/profile.hpp"

namespace tipwright::bench {

namespace {

constexpr const char* scpi_identity = "*IDN?";

// Quantities and state in one request; of a pump its name.
std::optional<ModbusRequest> request_of(const ModbusProfile& profile, Role role) {
    ModbusRequest request;
    request.unit = profile.unit;
    if (role == Role::pump) {
        if (!profile.identity) return std::nullopt;
        request.function = profile.identity->function;
        request.address = static_cast<std::uint16_t>(profile.identity->address);
        request.count = static_cast<std::uint16_t>(profile.identity->count);
        return request;
    }
    if (profile.block.count == 0) return std::nullopt;
    request.function = profile.block.function;
    request.address = static_cast<std::uint16_t>(profile.block.address);
    request.count = static_cast<std::uint16_t>(profile.block.count);
    return request;
}

ProfileFit fit_of_modbus(const ModbusProfile& profile, Role role, std::string_view came) {
    ProfileFit fit;
    const auto request = request_of(profile, role);
    if (!request) return fit;
    while (!came.empty()) {
        const ModbusParse parse = parse_modbus(std::as_bytes(std::span(came)), *request);
        if (parse.kind == ModbusParse::Kind::need_more) {
            ++fit.not_understood;
            break;
        }
        const bool named = role != Role::pump || !modbus_text(parse.values).empty();
        if (parse.kind == ModbusParse::Kind::response && named)
            ++fit.understood;
        else
            ++fit.not_understood;
        came.remove_prefix(parse.consumed);
    }
    return fit;
}

// What says nothing of the instrument's own language does not count: an answer to another question, a
// refusal, and any line at all in the place of an identity, of which IEEE 488.2, 10.14 wants four fields.
bool counts(const Meaning& meaning, Role role, std::string_view came) {
    if (!meaning.understood || meaning.text.starts_with("refusal")) return false;
    if (role != Role::pump) return !meaning.text.starts_with("answer to ");
    return meaning.text.starts_with("answer to identify") ||
           (meaning.text == "identity" && std::count(came.begin(), came.end(), ',') >= 3);
}

}  // namespace

std::optional<ProfileQuestion> question_of(const InstrumentProfile& profile) {
    const bool pump = profile.role == Role::pump;
    if (const auto line = profile.of<LineAsciiProfile>()) {
        const LineCommand& command = pump ? line->identify : line->read;
        if (!command.send) return std::nullopt;
        return ProfileQuestion{command.send->print({}) + line->send_ending, line->answer_s};
    }
    if (const auto modbus = profile.of<ModbusProfile>()) {
        const auto request = request_of(*modbus, profile.role);
        if (!request) return std::nullopt;
        return ProfileQuestion{modbus_frame(*request), modbus->times.answer_s};
    }
    if (const auto scpi = profile.of<ScpiProfile>()) {
        if (!pump && !scpi->read) return std::nullopt;
        return ProfileQuestion{
            (pump ? std::string(scpi_identity) : scpi->read->print({})) + scpi->send_ending,
            scpi->times.answer_s};
    }
    return std::nullopt;
}

ProfileFit fit_of(const InstrumentProfile& profile, std::string_view asked, std::string_view came) {
    if (const auto modbus = profile.of<ModbusProfile>())
        return asked.empty() ? ProfileFit{} : fit_of_modbus(*modbus, profile.role, came);
    ProfileFit fit;
    const auto interpreter = make_interpreter(profile);
    // Of contacts on a port's inputs no bytes come: what did come is not theirs.
    if (interpreter == nullptr) return fit;
    if (asked.empty()) {
        const std::size_t end = came.find_first_of("\r\n");
        if (end == std::string_view::npos) return fit;
        came.remove_prefix(end);
    } else {
        interpreter->sent(asked);
    }
    for (const Meaning& meaning : interpreter->came(came))
        if (counts(meaning, profile.role, came))
            ++fit.understood;
        else
            ++fit.not_understood;
    return fit;
}

}  // namespace tipwright::bench
