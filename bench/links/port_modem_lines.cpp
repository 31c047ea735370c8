#include "bench/links/port_modem_lines.hpp"

#include <linux/serial.h>
#include <sys/ioctl.h>

#include <cerrno>
#include <cstring>
#include <utility>

namespace tipwright::bench {

namespace {

constexpr unsigned input_bits[] = {TIOCM_CTS, TIOCM_DSR, TIOCM_CD, TIOCM_RNG};

class PortModemLines final : public ModemLines {
public:
    PortModemLines(int handle, std::string name) : handle_(handle), name_(std::move(name)) {}

    Result<ModemStates> states() override {
        int bits = 0;
        if (::ioctl(handle_, TIOCMGET, &bits) != 0) return failed("its modem inputs cannot be read");
        ModemStates states{};
        for (std::size_t i = 0; i < modem_inputs; ++i)
            states[i] = (static_cast<unsigned>(bits) & input_bits[i]) != 0;
        return states;
    }

    Outcome set_outputs(bool dtr, bool rts) override {
        const int on = (dtr ? TIOCM_DTR : 0) | (rts ? TIOCM_RTS : 0);
        const int off = (TIOCM_DTR | TIOCM_RTS) & ~on;
        if (::ioctl(handle_, TIOCMBIS, &on) != 0 || ::ioctl(handle_, TIOCMBIC, &off) != 0)
            return failed("its modem outputs cannot be set");
        return Done{};
    }

    // Drivers that count changes also wait for them; asking for the counts does not block.
    bool can_wait() override {
        serial_icounter_struct counts{};
        return ::ioctl(handle_, TIOCGICOUNT, &counts) == 0;
    }

    Result<bool> wait_for_change(const ModemStates& of) override {
        unsigned long mask = 0;
        for (std::size_t i = 0; i < modem_inputs; ++i) mask |= of[i] ? input_bits[i] : 0;
        if (::ioctl(handle_, TIOCMIWAIT, mask) == 0) return true;
        if (errno == EINTR) return false;
        return failed("waiting for its modem inputs failed");
    }

    Result<ModemCounts> counts() override {
        serial_icounter_struct counts{};
        if (::ioctl(handle_, TIOCGICOUNT, &counts) != 0)
            return failed("the changes of its modem inputs cannot be read");
        return ModemCounts{static_cast<std::uint32_t>(counts.cts), static_cast<std::uint32_t>(counts.dsr),
                           static_cast<std::uint32_t>(counts.dcd), static_cast<std::uint32_t>(counts.rng)};
    }

private:
    Fault failed(const std::string& what) const {
        return {FaultCode::link_lost, what + ": " + std::strerror(errno), name_,
                "check that the port is plugged in"};
    }

    int handle_;
    std::string name_;
};

}  // namespace

std::unique_ptr<ModemLines> modem_lines_of(int handle, std::string name) {
    return std::make_unique<PortModemLines>(handle, std::move(name));
}

}  // namespace tipwright::bench
