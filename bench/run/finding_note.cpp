#include "bench/run/finding_note.hpp"

#include <algorithm>

#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::bench {

std::string note_of(const calib::Finding& finding) {
    std::string out{name_of(finding.id)};
    std::replace(out.begin(), out.end(), '_', ' ');
    std::string numbers;
    for (const auto& number : finding.numbers)
        add_part(numbers, number.name + " " + calib::fixed(number.value, number.decimals), ", ");
    return numbers.empty() ? out : out + " (" + numbers + ")";
}

}  // namespace tipwright::bench
