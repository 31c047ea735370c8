#include "report/record/causes.hpp"

#include <string>
#include <string_view>

#include "calib/base/rounding.hpp"

namespace tipwright::report {

calib::CommonCauses causes_of(const Record& record) {
    calib::CommonCauses causes;
    causes.run = record.source_sha256.substr(0, 16);
    const auto instrument = [&](std::string_view role, std::string_view other_name) {
        for (const InstrumentUsed& used : record.instruments) {
            if ((used.role != role && used.role != other_name) || used.serial.empty()) continue;
            const std::string& calibration = used.certificate.empty() ? used.calibrated_on : used.certificate;
            return used.serial + (calibration.empty() ? "" : ", " + calibration);
        }
        return causes.run;
    };
    causes.balance = instrument("balance", "balance");
    causes.measure = instrument("volume measure", "measure");
    causes.clock = instrument("counter", "clock");
    const calib::Uncertain& diameter = record.gauge.catch_diameter_mm;
    // Measured anew it is another cause: another value, or the same by another way.
    causes.rim = record.identity.serial.empty()
                     ? causes.run
                     : record.identity.serial + ", " + calib::fixed(diameter.value, 3) + " mm" +
                           (record.identity.catch_diameter_method.empty()
                                ? ""
                                : " by " + record.identity.catch_diameter_method);
    return causes;
}

}  // namespace tipwright::report
