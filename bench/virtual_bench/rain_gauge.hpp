// RainGauge: one virtual gauge out in the rain. The same mechanism, contacts and errors as on the virtual
// bench (gauge_mechanism.hpp, contact_physics.hpp, errors.hpp), with rain on its true rim in place of the
// pump. Surfaces are wet from the beginning and nothing evaporates: what stays on them no calibration
// corrects, so it is not asked of one.
#pragma once

#include <cstdint>
#include <vector>

#include "bench/virtual_bench/contact_physics.hpp"
#include "bench/virtual_bench/gauge_mechanism.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "bench/virtual_bench/virtual_rain.hpp"
#include "bench/virtual_bench/water_path.hpp"

namespace tipwright::bench {

struct LoggedTip {
    double time_s = 0;
    int contact = 1;
};

class RainGauge {
public:
    // catch_diameter_mm: the true one.
    RainGauge(const calib::Gauge& gauge, const GaugeTruth& truth, double catch_diameter_mm,
              std::uint64_t seed);

    // Rain over a stretch; the next goes on from there. Contact changes that begin a closure, in order of
    // time.
    std::vector<LoggedTip> stand_in(VirtualRain& rain, double until_s);
    // What has fallen on the rim since the beginning.
    double fallen_mm() const { return fallen_mm_; }
    // Fallen amounts at each whole multiple of this time, for comparison; none unless asked for.
    void keep_amounts(double every_s) { every_s_ = every_s; }
    const std::vector<double>& amounts_mm() const { return amounts_mm_; }

private:
    void pass(double mm_h, double dt_s);

    calib::Gauge gauge_;
    double area_cm2_;
    InletPath inlet_;
    Mechanism mechanism_;
    ContactPhysics contacts_;
    double time_s_ = 0;
    double fallen_mm_ = 0;
    double every_s_ = 0;
    std::vector<double> amounts_mm_;
    std::vector<Movement> started_;
    std::vector<Discharge> discharged_;
    std::vector<LoggedTip> tips_;
};

}  // namespace tipwright::bench
