// A chart on a page: drawn for a column of a screen and for a phone, where the letters of the first would be
// too small to read. page.css shows the one that fits the width there is.
#pragma once

#include <string>

#include "bench/page/views/page_words.hpp"
#include "report/certificate/record_pictures.hpp"

namespace tipwright::page {

// Letters of 7.2 points are seen in 12 px or more where a chart is this many px wide: 290 at 484, 190 at 317.
inline constexpr report::certificate::PictureSize broad_chart{290, 225};
inline constexpr report::certificate::PictureSize narrow_chart{190, 165, true};

enum class Lower { no, yes };

std::string page_chart(const report::certificate::Chart& chart, const PageWords& words,
                       report::certificate::Drawing& measure, const std::string& id, Lower lower = Lower::no);
// Of the same chart, drawn in both sizes.
std::string by_width(const std::string& broad, const std::string& narrow);

}  // namespace tipwright::page
