#include "bench/program/register/entities.hpp"

#include "calib/base/joined.hpp"

namespace tipwright::program {

Result<report::GaugeEntry> gauge_meant(report::Register& reg, const std::string& serial,
                                       const std::string& model) {
    const auto found = reg.gauges_with_serial(serial);
    if (!found) return found.fault();
    std::vector<report::GaugeEntry> fitting;
    std::string models;
    for (const auto& gauge : *found) {
        add_part(models, in_quotes(gauge.model), ", ");
        if (model.empty() || gauge.model == model) fitting.push_back(gauge);
    }
    if (fitting.size() == 1) return fitting.front();
    if (fitting.empty())
        return Fault{FaultCode::unknown_field,
                     "the register has no gauge with serial " + in_quotes(serial) +
                         (model.empty() || found->empty() ? "" : " of model " + in_quotes(model)),
                     "serial", found->empty() ? "enter it, or import a list" : "it has: " + models};
    return Fault{FaultCode::bad_value, "several gauges have serial " + in_quotes(serial), "serial",
                 "give --model as one of " + models};
}

Result<report::InstrumentEntry> instrument_meant(report::Register& reg, const std::string& serial,
                                                 const std::string& role) {
    const auto found = reg.instruments_with_serial(serial);
    if (!found) return found.fault();
    std::vector<report::InstrumentEntry> fitting;
    for (const auto& instrument : *found)
        if (role.empty() || instrument.role == role) fitting.push_back(instrument);
    if (fitting.size() == 1) return fitting.front();
    if (fitting.empty())
        return Fault{FaultCode::unknown_field,
                     "the register has no instrument with serial " + in_quotes(serial), "serial",
                     "see 'tipwright register instrument list'"};
    return Fault{FaultCode::bad_value, "several instruments have serial " + in_quotes(serial), "serial",
                 "give --role too"};
}

Result<report::Id> customer_meant(report::Register& reg, const std::string& customer) {
    if (customer.empty()) return report::Id{0};
    const auto found = reg.customer(customer);
    if (!found) {
        Fault fault = found.fault();
        fault.remedy = "enter it with 'tipwright register customer add'";
        return fault;
    }
    return found->id;
}

}  // namespace tipwright::program
