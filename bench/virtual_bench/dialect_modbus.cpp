// Modbus RTU: an instrument with the registers of the profile, and no others. Exceptions after "MODBUS
// Application Protocol V1.1b3", 7: 01 illegal function, 02 illegal address, 04 failure of the device.
#include <algorithm>
#include <deque>
#include <map>

#include "bench/instruments/modbus/profile.hpp"
#include "bench/instruments/modbus/protocol.hpp"
#include "bench/instruments/modbus_crc.hpp"
#include "bench/virtual_bench/device_text.hpp"
#include "bench/virtual_bench/dialect.hpp"

namespace tipwright::bench {

namespace {

constexpr int illegal_function = 1;
constexpr int illegal_address = 2;
constexpr int device_failed = 4;

unsigned byte_at(std::string_view bytes, std::size_t at) {
    return static_cast<unsigned char>(bytes[at]);
}
std::uint16_t word_at(std::string_view bytes, std::size_t at) {
    return static_cast<std::uint16_t>(byte_at(bytes, at) << 8 | byte_at(bytes, at + 1));
}
std::string with_crc(std::string frame) {
    const std::uint16_t crc = crc16_modbus(frame);
    frame += static_cast<char>(crc & 0xFF);
    frame += static_cast<char>(crc >> 8);
    return frame;
}

class ModbusDialect final : public Dialect {
public:
    ModbusDialect(std::shared_ptr<const ModbusProfile> profile, Role role)
        : profile_(std::move(profile)), role_(role) {}

    void heard(std::string_view wire, std::string& commands, std::string& replies) override {
        held_ += wire;
        while (!held_.empty()) {
            const std::size_t length = request_length();
            if (length == 0 || length > held_.size()) return;
            const std::string frame = held_.substr(0, length);
            const bool whole = with_crc(frame.substr(0, length - 2)) == frame;
            // What is no request is passed over byte by byte, as after a disturbance on the line.
            held_.erase(0, whole ? length : 1);
            if (whole && static_cast<int>(byte_at(frame, 0)) == profile_->unit)
                request(frame, commands, replies);
        }
    }

    std::string said(std::string_view line) override {
        const DeviceWords words = read_device_words(line);
        const bool quantity =
            words.kind == DeviceWords::Kind::weight || words.kind == DeviceWords::Kind::climate;
        const auto wait = std::find_if(pending_.begin(), pending_.end(),
                                       [&](const Wait& one) { return one.reading == quantity; });
        if (wait == pending_.end()) return "";
        const Wait waited = *wait;
        pending_.erase(wait);
        if (words.kind == DeviceWords::Kind::refused) return exception(waited.frame, device_failed);
        if (quantity) put_quantities(words);
        if (words.kind == DeviceWords::Kind::identity) put_identity(words.text);
        return reply(waited.frame);
    }

private:
    struct Wait {
        std::string frame;
        bool reading = false;
    };

    // Bytes of the request at the front; 0: more must come to tell.
    std::size_t request_length() const {
        if (held_.size() < 2) return 0;
        if (byte_at(held_, 1) != static_cast<unsigned>(ModbusFunction::write_many)) return 8;
        return held_.size() < 7 ? 0 : 9 + byte_at(held_, 6);
    }

    void request(const std::string& frame, std::string& commands, std::string& replies) {
        const unsigned function = byte_at(frame, 1);
        const int address = word_at(frame, 2);
        const auto is = [&](ModbusFunction one) { return function == static_cast<unsigned>(one); };
        if (is(ModbusFunction::read_holding) || is(ModbusFunction::read_input)) {
            const auto read = static_cast<ModbusFunction>(function);
            const int count = word_at(frame, 4);
            const auto holds = [&](ModbusFunction its, int from, int size) {
                return its == read && address >= from && address + count <= from + size;
            };
            const ModbusBlock& block = profile_->block;
            const auto& identity = profile_->identity;
            const auto& alive = profile_->keep_alive_read;
            if (block.count > 0 && holds(block.function, block.address, block.count))
                return wait_for(role_ == Role::climate ? "C?" : "W?", frame, true, commands);
            if (identity && holds(identity->function, identity->address, identity->count))
                return wait_for("ID?", frame, false, commands);
            if (alive && holds(alive->function, alive->address, alive->count))
                return wait_for("ID?", frame, false, commands);
            replies += exception(frame, illegal_address);
            return;
        }
        if (!is(ModbusFunction::write_one) && !is(ModbusFunction::write_many)) {
            replies += exception(frame, illegal_function);
            return;
        }
        if (is(ModbusFunction::write_one)) {
            registers_[address] = word_at(frame, 4);
        } else {
            for (int i = 0; i < word_at(frame, 4) && 7 + 2 * static_cast<std::size_t>(i) + 4 <= frame.size();
                 ++i)
                registers_[address + i] = word_at(frame, 7 + 2 * static_cast<std::size_t>(i));
        }
        const Completed done = done_by(address);
        if (!done.words.empty()) return wait_for(done.words, frame, false, commands);
        replies += done.known ? reply(frame) : exception(frame, illegal_address);
    }

    struct Completed {
        bool known = false;  // a register of the profile
        std::string words;   // what its writing completes; empty: nothing yet
    };

    // Of several writes the last one completes the command.
    Completed done_by(int address) const {
        Completed out;
        const auto look = [&](const ModbusWrites& writes, const char* words, int decimals) {
            for (const ModbusWrite& write : writes) {
                if (write.address != address) continue;
                out.known = true;
                if (&write != &writes.back() || !out.words.empty()) continue;
                if (write.value && number_in(write) != *write.value) continue;
                out.words = words;
                for (const ModbusWrite& carrier : writes)
                    if (!carrier.value && decimals > 0)
                        out.words += fixed_text(number_in(carrier) * carrier.scale, decimals);
            }
        };
        look(profile_->stop, "STOP", 0);
        look(profile_->set_flow, "FLOW ", 3);
        look(profile_->drain_open, "DRAIN OPEN", 0);
        look(profile_->drain_close, "DRAIN CLOSE", 0);
        look(profile_->arm, "TIMEOUT ", 1);
        look(profile_->tare, "TARE", 0);
        look(profile_->keep_alive, "ID?", 0);
        return out;
    }

    double number_in(const ModbusWrite& write) const {
        std::vector<std::uint16_t> words;
        for (int i = 0; i < modbus_registers(write.type); ++i) {
            const auto found = registers_.find(write.address + i);
            words.push_back(found == registers_.end() ? std::uint16_t{0} : found->second);
        }
        return modbus_number(write.type, words, profile_->low_word_first);
    }

    void wait_for(const std::string& words, const std::string& frame, bool reading, std::string& commands) {
        pending_.push_back({frame, reading});
        commands += words + "\r";
    }

    void put_quantities(const DeviceWords& words) {
        for (const ModbusQuantity& one : profile_->block.quantities) {
            const double number = words.over ? 0 : (quantity_of(words, one.field) - one.offset) / one.scale;
            const auto values = modbus_registers_of(one.type, number, profile_->low_word_first);
            for (std::size_t i = 0; values && i < values->size(); ++i)
                registers_[one.address + static_cast<int>(i)] = (*values)[i];
        }
        if (profile_->block.status_address)
            registers_[*profile_->block.status_address] =
                static_cast<std::uint16_t>((words.stable ? profile_->block.stable_bits : 0) |
                                           (words.over ? profile_->block.overload_bits : 0));
    }

    void put_identity(const std::string& text) {
        if (!profile_->identity) return;
        for (int i = 0; i < profile_->identity->count; ++i) {
            const auto letter = [&](std::size_t at) {
                return at < text.size() ? static_cast<unsigned char>(text[at]) : 0u;
            };
            const auto at = 2 * static_cast<std::size_t>(i);
            registers_[profile_->identity->address + i] =
                static_cast<std::uint16_t>(letter(at) << 8 | letter(at + 1));
        }
    }

    std::string reply(const std::string& frame) const {
        const auto function = static_cast<ModbusFunction>(byte_at(frame, 1));
        if (function == ModbusFunction::write_one || function == ModbusFunction::write_many)
            return with_crc(frame.substr(0, 6));
        const int count = word_at(frame, 4);
        std::string out = frame.substr(0, 2) + static_cast<char>(2 * count);
        for (int i = 0; i < count; ++i) {
            const auto found = registers_.find(word_at(frame, 2) + i);
            const std::uint16_t word = found == registers_.end() ? std::uint16_t{0} : found->second;
            out += static_cast<char>(word >> 8);
            out += static_cast<char>(word & 0xFF);
        }
        return with_crc(std::move(out));
    }

    static std::string exception(const std::string& frame, int code) {
        std::string out = frame.substr(0, 1);
        out += static_cast<char>(byte_at(frame, 1) | 0x80);
        out += static_cast<char>(code);
        return with_crc(std::move(out));
    }

    std::shared_ptr<const ModbusProfile> profile_;
    Role role_;
    std::string held_;
    std::map<int, std::uint16_t> registers_;
    std::deque<Wait> pending_;
};

}  // namespace

std::unique_ptr<Dialect> make_modbus_dialect(std::shared_ptr<const ModbusProfile> profile, Role role) {
    return std::make_unique<ModbusDialect>(std::move(profile), role);
}

}  // namespace tipwright::bench
