// The certificate's charts as pictures by themselves (SVG): error against intensity, its residuals where the
// bars vanish, volume per tip against flow; and any other chart.
#pragma once

#include <string>
#include <vector>

#include "report/certificate/certificate.hpp"
#include "report/certificate/chart.hpp"
#include "report/certificate/svg.hpp"

namespace tipwright::report::certificate {

struct NamedPicture {
    std::string name;   // "error", "residuals", "volume": for files and links
    std::string title;  // as on the certificate
    std::string svg;
};

struct PictureSize {
    double width = 460;  // points
    double height = 260;
    bool legend_apart = false;  // the legend's rows make it taller, so that they leave the chart its height
};

// `measure`: a drawing with the same fonts, for the widths of text. `prefix` begins the ids of each picture.
std::vector<NamedPicture> record_pictures(const Record& record, const CertificateOptions& options,
                                          Drawing& measure, PictureSize size, Theme theme,
                                          const std::string& prefix = "chart");

std::string chart_picture(const Chart& chart, const Words& words, Drawing& measure, PictureSize size,
                          Theme theme, const std::string& id);

}  // namespace tipwright::report::certificate
