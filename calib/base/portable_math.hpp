// Elementary functions that give the same bits on every machine, with every compiler and C library.
// Arguments and results as in <cmath>: radians, natural units; NaN gives NaN, poles and overflow an infinity.
// Nothing sets errno. The C library chooses its code by the processor's features, and its results may differ
// in the last bit. These are made of IEEE + - * / and square root alone, in pairs of doubles (Dekker 1971;
// Knuth, TAOCP 2, 4.2.2), with a relative error below 1e-27 before the one rounding at the end: the correctly
// rounded result but for about one argument in 1e11 (subnormal results: within one unit of the last place).
// Checked against MPFR in tests/calib/base/portable_math_test.cpp. Whoever links tipwright_calib gets them
// under their usual names, in own code and in Boost.Math alike: the linker's --wrap (CMakeLists.txt) leads
// std::exp, std::pow, ... here. sqrt, fma, floor, frexp, ldexp and the like are exact and stay the C
// library's. A function of the C library that is neither fails tests/whole_program/portable_test.sh.
#pragma once

namespace tipwright::calib::portable {

double exp(double x);
double exp2(double x);
double exp10(double x);
double expm1(double x);
double log(double x);
double log2(double x);
double log10(double x);
double log1p(double x);
double pow(double x, double y);
double hypot(double x, double y);
// |x| <= 1e9; beyond that NaN, since nothing here turns so often.
double sin(double x);
double cos(double x);
double tan(double x);
double asin(double x);
double acos(double x);
double atan(double x);
double atan2(double y, double x);

}  // namespace tipwright::calib::portable
