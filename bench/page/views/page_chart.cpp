#include "bench/page/views/page_chart.hpp"

namespace tipwright::page {

using namespace report::certificate;

std::string page_chart(const Chart& chart, const PageWords& words, Drawing& measure, const std::string& id,
                       Lower lower) {
    PictureSize broad = broad_chart;
    PictureSize narrow = narrow_chart;
    // The last minutes need no height.
    if (lower == Lower::yes) {
        constexpr double lower_by = 55;
        broad.height -= lower_by;
        narrow.height -= lower_by / 2;
    }
    const auto drawn = [&](const PictureSize& size, const std::string& name) {
        return chart_picture(chart, words.certificate(), measure, size, Theme::page, name);
    };
    return by_width(drawn(broad, id), drawn(narrow, id + "-narrow"));
}

std::string by_width(const std::string& broad, const std::string& narrow) {
    return "<div class=\"broad\">" + broad + "</div><div class=\"narrow\">" + narrow + "</div>\n";
}

}  // namespace tipwright::page
