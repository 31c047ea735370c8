#include "report/pack/formula_text.hpp"

#include <algorithm>

#include "report/certificate/correction_words.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/text_block.hpp"
#include "report/tables/table_head.hpp"

namespace tipwright::report {

namespace {

std::string indented(const std::string& text) {
    std::string out = "\n    ";
    for (const char c : certificate::without_marks(text)) {
        out += c;
        if (c == '\n') out += "    ";
    }
    return out + "\n\n";
}

// Words of a file of people are not cut, but kept to the width of a screen.
std::string wrapped(const std::string& marked) {
    constexpr std::size_t width = 100;
    const std::string text = certificate::without_marks(marked);
    std::string out;
    std::size_t used = 0;
    for (std::size_t start = 0; start < text.size();) {
        const std::size_t end = std::min(text.find(' ', start), text.size());
        const std::size_t length = end - start;
        if (used > 0) out += used + 1 + length > width ? '\n' : ' ';
        used = used > 0 && used + 1 + length <= width ? used + 1 + length : length;
        out.append(text, start, length);
        start = end + 1;
    }
    return out + "\n";
}

}  // namespace

std::string formula_text(const Record& record, const certificate::Words& words) {
    const auto& correction = record.evaluation.correction;
    const std::string nominal = certificate::Numbers(words).significant(record.gauge.nominal_tip_mm, 6);
    std::string out = words.text("correction.heading") + "\n\n";
    for (const auto& lines : {document_lines(record, words), gauge_lines(record, words)})
        for (const auto& [label, text] : lines)
            out += words.text("tables.line", {{"label", label}, {"text", visible(text)}}) + "\n";
    out += "\n";
    if (!correction || correction->rows.empty()) {
        out += wrapped(certificate::no_correction_sentence(record, words));
        // A doubted gauge's tips are not said to be worth anything.
        if (record.evaluation.no_correction != calib::NoCorrection::steps_doubted)
            out += wrapped(words.text("tables.nominal_counts", {{"nominal", nominal}}));
        return out;
    }
    out += wrapped(certificate::correction_intro(record, words)) +
           indented(certificate::correction_or_table(record, words)) + wrapped(words.text("tables.letters"));
    if (const std::string siphon = certificate::siphon_sentence(record, words); !siphon.empty())
        out += wrapped(siphon);
    return out + "\n" + wrapped(certificate::correction_example(record, words)) + "\n" +
           wrapped(certificate::correction_range(record, words)) + "\n" +
           wrapped(words.text("tables.see_table"));
}

}  // namespace tipwright::report
