// What a document is written with and on: paper, words of its language, fonts.
#pragma once

#include "report/certificate/canvas.hpp"
#include "report/certificate/certificate.hpp"
#include "report/certificate/words.hpp"

namespace tipwright::report {

struct Stationery {
    Paper paper = Paper::a4;
    certificate::Words words;
    certificate::Fonts fonts;
};

}  // namespace tipwright::report
