#include "bench/instruments/line_ascii/instruments.hpp"
#include "bench/instruments/modbus/instruments.hpp"
#include "bench/instruments/modem_contacts/instruments.hpp"
#include "bench/instruments/scpi/instruments.hpp"
#include "bench/instruments/tip_counter/instruments.hpp"

namespace tipwright::bench {

std::span<const FamilyEntry* const> families() {
    static constexpr const FamilyEntry* all[] = {&line_ascii_family, &modbus_family, &scpi_family,
                                                 &tip_counter_family, &modem_contacts_family};
    return all;
}

}  // namespace tipwright::bench
