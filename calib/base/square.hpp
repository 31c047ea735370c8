// x times x.
#pragma once

namespace tipwright::calib {

constexpr double square(double x) {
    return x * x;
}

}  // namespace tipwright::calib
