// Structure of a PDF (ISO 32000-1 clause 14.7: tags, what belongs to them on the pages) and bookmarks of its
// headings, by qpdf. Private to pdf_finish.cpp.
#pragma once

#include <vector>

#include "report/certificate/canvas.hpp"

class QPDF;

namespace tipwright::report::certificate {

// The canvas's codes in the pages become marked content.
void write_out_marks(QPDF& pdf, const std::vector<StructureNode>& structure);
void write_structure(QPDF& pdf, const std::vector<StructureNode>& structure);
void write_bookmarks(QPDF& pdf, const std::vector<StructureNode>& structure);

}  // namespace tipwright::report::certificate
