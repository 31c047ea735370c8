// Foot of the page that is selected: a line across, and at its right which page of how many this is.
#pragma once

#include <string>

#include "report/certificate/flow.hpp"
#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

// Room for text at the left of it, pt.
struct PageFoot {
    double y = 0;
    double width = 0;
};

PageFoot draw_page_foot(Flow& flow, const Words& words, int page, int pages);
// On every page that was drawn, with one line at the left.
void draw_page_feet(Flow& flow, const Words& words, const std::string& line);

}  // namespace tipwright::report::certificate
