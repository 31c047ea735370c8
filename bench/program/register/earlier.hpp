// What a sealed file says of an earlier certificate that it replaces or amends (ISO/IEC 17025:2017 clause
// 7.8.8): an XML in its own fields, a PDF in words on its first page.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "report/certificate/words.hpp"

namespace tipwright::program {

struct Earlier {
    std::string number;
    bool amended = false;  // false: replaced
};

// The words around a number, without blanks, since a page breaks its lines.
struct EarlierPhrase {
    bool amended = false;
    std::string before;
    std::string after;
};
std::vector<EarlierPhrase> earlier_phrases(const std::vector<report::certificate::Words>& languages);

std::optional<Earlier> earlier_in_pdf(std::string_view pdf, const std::string& name,
                                      const std::vector<EarlierPhrase>& phrases);
std::optional<Earlier> earlier_in_xml(std::string_view xml);

}  // namespace tipwright::program
