#include "report/certificate/supplied_words.hpp"

#include <algorithm>

namespace tipwright::report::certificate {

namespace {

constexpr std::string_view sentences[] = {
    "Evaluated from measurements supplied by others; this program neither made nor witnessed them.",
    "The table holds single tips",
    "The table holds one row per step",
    "Source: ",
    "Licence of the data: ",
    ("Masses were turned into volume with the density of water (Tanaka et al. 2001) and corrected for air "
     "buoyancy (CIPM-2007); uncertainty after JCGM 100:2008."),
    // Before the next: whole phrases of what a table may leave out.
    "balance.repeatability_g was not stated: ",
    "balance.linearity_half_width_g was not stated: ",
    "balance.calibration_relative_u was not stated: ",
    "measure.common_u_mL was not stated: ",
    "water_temperature_C was not stated: ",
    "air_temperature_C was not stated: ",
    "air_pressure_hPa was not stated: ",
    "relative_humidity_percent was not stated: ",
    "evaporation_g_h was not stated: ",
    " was not stated: ",
    "taken as one display step, ",
    "taken as two display steps, ",
    "0.01 % of the reading assumed",
    "nine tenths of the variance of measure.u_mL taken as the measure's own error, alike at every step",
    "20 °C with u = 3 K assumed",
    "no correction, u = 0.2 g/h assumed",
    "that of the water assumed",
    "1000 hPa assumed",
    "50 % assumed",
    "each tip was weighed by itself: the balance's linearity counts once for every tip",
    "each tip was measured by itself: the measure's uncertainty counts once for every tip",
    "each reading after a tip is the one before the next: the balance's linearity counts once for a step",
    "scatter of single tips was not stated and is not in the budget",
    "compartments were not told apart: their difference counts as scatter",
};

// The number that stands there, as the language writes numbers.
void write_number(const Words& words, std::string& text, std::size_t at) {
    const std::size_t end = std::min(text.find_first_not_of("0123456789.", at), text.size());
    text.replace(at, end - at, words.number(text.substr(at, end - at)));
}

}  // namespace

std::span<const std::string_view> supplied_sentences() {
    return sentences;
}

std::string supplied_words(const Words& words, std::string text) {
    for (const std::string_view sentence : sentences) {
        const std::string said = words.named("translated", sentence, std::string(sentence));
        for (std::size_t at = text.find(sentence); at != std::string::npos;
             at = text.find(sentence, at + said.size())) {
            text.replace(at, sentence.size(), said);
            if (sentence.ends_with("display step, ") || sentence.ends_with("display steps, "))
                write_number(words, text, at + said.size());
        }
    }
    return text;
}

}  // namespace tipwright::report::certificate
