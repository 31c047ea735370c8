#include "calib/base/fault.hpp"

#include <array>
#include <cstddef>
#include <cstdint>

#include "calib/base/ascii.hpp"
#include "calib/base/text.hpp"

namespace tipwright {
namespace {

struct Entry {
    FaultCode code;
    std::string_view name;
    std::string_view sentence;
};

constexpr std::array<Entry, fault_code_count> entries{{
    {FaultCode::usage, "usage", "The command line is not one the program understands."},
    {FaultCode::file_missing, "file_missing", "A file or folder that was named does not exist."},
    {FaultCode::file_unreadable, "file_unreadable", "A file exists but cannot be read."},
    {FaultCode::file_unwritable, "file_unwritable", "A file or folder cannot be written."},
    {FaultCode::file_too_large, "file_too_large", "A file or an entry is larger than the program accepts."},
    {FaultCode::syntax, "syntax", "The text does not follow the rules of its format."},
    {FaultCode::missing_field, "missing_field", "A value that is needed is not given."},
    {FaultCode::unknown_field, "unknown_field", "A name is used that nothing here knows."},
    {FaultCode::bad_value, "bad_value", "A value is of the wrong kind or cannot be true."},
    {FaultCode::duplicate, "duplicate", "Something that may be given only once is given twice."},
    {FaultCode::unsupported_version, "unsupported_version",
     "The file was written in a version of its format that this program does not read."},
    {FaultCode::damaged, "damaged", "The content is not what was written: it was changed or cut short."},
    {FaultCode::too_few_points, "too_few_points", "There are fewer measurements than the computation needs."},
    {FaultCode::bad_covariance, "bad_covariance",
     "The stated uncertainties and correlations contradict each other."},
    {FaultCode::not_finite, "not_finite", "A number is infinite or not a number."},
    {FaultCode::no_convergence, "no_convergence", "A computation did not settle on a result."},
    {FaultCode::inconsistent, "inconsistent", "Values that must agree with each other do not."},
    {FaultCode::link_lost, "link_lost", "The connection to an instrument was lost."},
    {FaultCode::no_answer, "no_answer", "An instrument did not answer in time."},
    {FaultCode::garbled_answer, "garbled_answer", "An instrument answered something that cannot be read."},
    {FaultCode::refused, "refused", "An instrument refused a command."},
    {FaultCode::overload, "overload", "An instrument reports that its range is exceeded."},
    {FaultCode::counter_silent, "counter_silent", "The tip counter stopped reporting."},
    {FaultCode::pump_not_turning, "pump_not_turning", "The pump takes commands, but no water comes."},
    {FaultCode::flow_not_held, "flow_not_held", "The flow could not be held near the set intensity."},
    {FaultCode::vessel_full, "vessel_full", "The collecting vessel has no room for the water still to come."},
    {FaultCode::time_limit, "time_limit", "A step took longer than the plan allows."},
    {FaultCode::contacts_disagree, "contacts_disagree", "The two contacts did not count the same tips."},
    {FaultCode::water_behind, "water_behind", "The gauge discharges less water than is pumped into it."},
    {FaultCode::disk_full, "disk_full", "There is no room left to write what happens."},
    {FaultCode::interrupted, "interrupted", "The run was stopped by the operator or by a signal."},
    {FaultCode::not_permitted, "not_permitted", "The rules of the register do not allow this."},
    {FaultCode::wrong_passphrase, "wrong_passphrase", "The passphrase does not open the key."},
    {FaultCode::database_unreachable, "database_unreachable",
     "The register's database cannot be reached, or does not answer in time."},
}};

constexpr bool in_order() {
    for (int i = 0; i < fault_code_count; ++i)
        if (static_cast<int>(entries[static_cast<std::size_t>(i)].code) != i) return false;
    return true;
}
static_assert(in_order(), "the list follows the order of FaultCode");

const Entry& entry_of(FaultCode code) {
    return entries.at(static_cast<std::size_t>(code));
}

struct Span {
    std::uint32_t first;
    std::uint32_t last;
};

// Control characters, and characters that break, reorder or hide in a line: general category Cc, property
// Default_Ignorable_Code_Point, line and paragraph separator, interlinear annotation, the blank Braille
// pattern, format controls of hieroglyphs, noncharacters, and the private planes, which each font draws as it
// likes (Unicode 15, DerivedCoreProperties.txt; from memory).
constexpr std::array<Span, 24> hidden_spans{
    {{0x00, 0x1F},       {0x7F, 0x9F},       {0xAD, 0xAD},       {0x34F, 0x34F},      {0x61C, 0x61C},
     {0x115F, 0x1160},   {0x17B4, 0x17B5},   {0x180B, 0x180F},   {0x200B, 0x200F},    {0x2028, 0x202E},
     {0x2060, 0x206F},   {0x2800, 0x2800},   {0x3164, 0x3164},   {0xFE00, 0xFE0F},    {0xFEFF, 0xFEFF},
     {0xFFA0, 0xFFA0},   {0xFFF0, 0xFFFB},   {0xFFFE, 0xFFFF},   {0x13430, 0x1345F},  {0x1BCA0, 0x1BCA3},
     {0x1D173, 0x1D17A}, {0xE0000, 0xE0FFF}, {0xF0000, 0xFFFFF}, {0x100000, 0x10FFFF}}};

bool hidden(std::uint32_t point) {
    for (const Span& span : hidden_spans)
        if (point >= span.first && point <= span.last) return true;
    return false;
}

}  // namespace

std::string_view name_of(FaultCode code) {
    return entry_of(code).name;
}

std::string_view sentence_of(FaultCode code) {
    return entry_of(code).sentence;
}

std::optional<FaultCode> fault_code_named(std::string_view name) {
    for (const Entry& entry : entries)
        if (entry.name == name) return entry.code;
    return std::nullopt;
}

std::string visible(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t begin = at;
        const bool bad = code_point_length(text, at) == 0;
        const char32_t point = next_code_point(text, at);
        if (bad) {
            out += "\\x";
            append_hex(out, static_cast<unsigned char>(text[begin]), 2);
        } else if (!hidden(point)) {
            out.append(text, begin, at - begin);
        } else if (point == '\n') {
            out += "\\n";
        } else if (point == '\r') {
            out += "\\r";
        } else if (point == '\t') {
            out += "\\t";
        } else if (point < 0x100) {
            out += "\\x";
            append_hex(out, point, 2);
        } else {
            out += "\\u";
            append_hex(out, point, point < 0x10000 ? 4 : 6);
        }
    }
    return out;
}

std::string in_quotes(std::string_view value) {
    constexpr std::size_t longest = 60;
    std::size_t characters = 0;
    std::size_t at = 0;
    for (; at < value.size() && characters < longest; ++characters) next_code_point(value, at);
    std::string out = "\"" + visible(value.substr(0, at));
    if (at < value.size()) out += "...";
    return out + "\"";
}

std::string Fault::line() const {
    std::string out;
    if (!where.empty()) out = where + ": ";
    out += what.empty() ? std::string(sentence_of(code)) : what;
    if (!remedy.empty()) out += "; " + remedy;
    return visible(out);
}

}  // namespace tipwright
