// Serial settings: how a port is to be configured for an instrument. Read from its profile.
#pragma once

namespace tipwright::bench {

enum class Parity { none, even, odd };
enum class FlowControl { none, rts_cts, xon_xoff };

struct SerialSettings {
    int baud = 9600;
    int data_bits = 8;  // 7 or 8
    Parity parity = Parity::none;
    int stop_bits = 1;  // 1 or 2
    FlowControl flow_control = FlowControl::none;
};

}  // namespace tipwright::bench
