// How Boost.Math computes here: in double, without promotion to long double. That type differs between
// machines, its functions are the C library's, and the same input must give the same bits everywhere.
#pragma once

#include <boost/math/policies/policy.hpp>

namespace tipwright::calib {

using SameEverywhere = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

}  // namespace tipwright::calib
