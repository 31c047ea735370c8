// What the laboratory's own reports share: their beginning, and the end of a document. Private to
// report/laboratory.
#pragma once

#include <string>

#include "report/certificate/flow.hpp"
#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

struct LaboratoryTitle {
    std::string title;
    std::string subtitle;
    std::string standing;  // what the document is not
    bool invented = false;
    Origin origin = Origin::real_bench;
};

void draw_laboratory_title(certificate::Flow& flow, const certificate::Words& words,
                           const LaboratoryTitle& title);
// Feet on all pages, then the PDF. `date`: ISO, of the newest data.
Result<std::string> finish_laboratory(certificate::Canvas& canvas, certificate::Flow& flow,
                                      const certificate::Words& words, const std::string& title,
                                      const std::string& date);

}  // namespace tipwright::report
