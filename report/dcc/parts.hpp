// Parts of the DCC that recur, and the pieces it is made of. Internal to report/dcc/.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/uncertain.hpp"
#include "report/dcc/dcc.hpp"
#include "report/dcc/xml_writer.hpp"

namespace tipwright::report::dcc {

inline constexpr std::string_view mm_per_hour = "\\milli\\metre\\hour\\tothe{-1}";
inline constexpr std::string_view millimetre = "\\milli\\metre";
inline constexpr std::string_view square_centimetre = "\\centi\\metre\\tothe{2}";
inline constexpr std::string_view millilitre = "\\milli\\litre";
inline constexpr std::string_view second = "\\second";
inline constexpr std::string_view per_cent = "\\percent";
inline constexpr std::string_view one = "\\one";

struct Writer {
    XmlWriter& xml;
    const DccOptions& options;

    const certificate::Words& words() const { return options.words; }
    const std::string& language() const { return words().language(); }

    // dcc:textType in the certificate's language, and of a text of unknown language.
    void name(std::string_view element, const std::string& text);
    void foreign(std::string_view element, const std::string& text);
    // dcc:notEmptyStringType; nothing is written when only blanks are left.
    void line(std::string_view element, const std::string& text);
};

// One column of a result: as many values as steps, with or without uncertainty.
struct Column {
    std::string name;
    std::string_view ref_type;  // may be empty
    std::string_view unit;
    std::vector<std::string> values;
    std::vector<std::string> U;  // as long as values, or empty
    std::vector<std::string> k;
    std::string coverage;  // "0.95"
};

// Adds value, U and k of one entry, rounded: by itself, or to the decimals of its column on paper.
void add(Column& column, double value, const calib::Expanded& expanded, std::optional<int> decimals = {});
// si:realListXMLList with its uncertainty.
void write_list(Writer& writer, const Column& column);
// The same as a whole dcc:quantity.
void write_quantity(Writer& writer, const Column& column);
// si:real with uncertainty.
void write_real(Writer& writer, std::string_view unit, double value, const calib::Expanded& expanded);

// Text without blanks at its ends.
std::string trimmed(std::string_view text);

void write_administrative_data(Writer& writer, const Record& record);
void write_measurement_results(Writer& writer, const Record& record);
// What is reserved, as one text; beside each verdict and correction that rests on it, for who reads no
// further.
std::string reserved_words(const Writer& writer, const Record& record);
// The DCC's word for a verdict of one step.
std::string verdict_word(const calib::StepConformity& judged, const calib::StepResult& step);

}  // namespace tipwright::report::dcc
