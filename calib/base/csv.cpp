#include "calib/base/csv.hpp"

#include <algorithm>
#include <optional>

namespace tipwright {
namespace {

// Of the heading, the first line that is no remark.
char separator_of(std::string_view text) {
    while (!text.empty()) {
        const std::string_view line = text.substr(0, text.find('\n'));
        text.remove_prefix(std::min(text.size(), line.size() + 1));
        if (line.empty() || line == "\r" || line.starts_with('#') || line.starts_with("\"#")) continue;
        bool quoted = false;
        for (const char c : line) {
            if (c == '"') quoted = !quoted;
            if (!quoted && (c == ';' || c == '\t')) return c;
        }
        break;
    }
    return ',';
}

class CsvReader {
public:
    CsvReader(std::string_view text, const std::string& file, char separator)
        : text_(text), file_(file), separator_(separator) {}

    // Rows up to the end or the first fault.
    std::optional<Fault> read(CsvText& out) {
        while (at_ < text_.size()) {
            if (end_of_line()) continue;
            const bool leading = out.rows.empty();
            const bool remark =
                peek() == '#' || (peek() == '"' && at_ + 1 < text_.size() && text_[at_ + 1] == '#');
            if (leading && remark && peek() == '#') {
                read_remark(out);
                continue;
            }
            CsvRow row;
            if (auto fault = read_row(row)) return fault;
            if (leading && remark) {
                out.remarks.push_back({row.fields.front().text.substr(1), row.fields.front().at});
                continue;
            }
            if (out.rows.size() == csv_rows_max)
                return Fault{FaultCode::file_too_large, "more than " + std::to_string(csv_rows_max) + " rows",
                             where(file_, row.fields.front().at), "split it"};
            out.rows.push_back(std::move(row));
        }
        return std::nullopt;
    }

private:
    char peek() const { return text_[at_]; }

    Fault syntax(TextPosition at, std::string what, std::string remedy) const {
        return {FaultCode::syntax, std::move(what), where(file_, at), std::move(remedy)};
    }

    // Takes one byte. Bytes that continue a UTF-8 character do not move the column.
    char take() {
        const char c = text_[at_++];
        if (c == '\n') {
            ++place_.line;
            place_.column = 1;
        } else if ((static_cast<unsigned char>(c) & 0xC0) != 0x80) {
            ++place_.column;
        }
        return c;
    }

    bool at_line_end() const {
        return at_ == text_.size() || peek() == '\n' ||
               (peek() == '\r' && at_ + 1 < text_.size() && text_[at_ + 1] == '\n');
    }

    // Takes a line end, if one is here.
    bool end_of_line() {
        if (at_ == text_.size() || !at_line_end()) return false;
        if (take() == '\r') take();
        return true;
    }

    void read_remark(CsvText& out) {
        const TextPosition at = place_;
        std::string line;
        while (!at_line_end()) line.push_back(take());
        while (!line.empty() && (line.back() == separator_ || line.back() == ' ')) line.pop_back();
        out.remarks.push_back({line.empty() ? line : line.substr(1), at});
    }

    std::optional<Fault> read_row(CsvRow& row) {
        while (true) {
            CsvField field;
            field.at = place_;
            if (auto fault = at_ < text_.size() && peek() == '"' ? read_quoted(field) : read_bare(field))
                return fault;
            if (field.text.size() > csv_field_bytes_max)
                return syntax(field.at,
                              "a field has " + std::to_string(field.text.size()) + " bytes, at most " +
                                  std::to_string(csv_field_bytes_max) + " are read",
                              "look for a quote that is never closed");
            row.fields.push_back(std::move(field));
            if (row.fields.size() > csv_fields_max)
                return syntax(place_, "a row has more than " + std::to_string(csv_fields_max) + " fields",
                              "");
            if (at_line_end()) {
                end_of_line();
                return std::nullopt;
            }
            take();  // the separator: neither kind of field ends elsewhere
        }
    }

    std::optional<Fault> read_bare(CsvField& field) {
        while (!at_line_end() && peek() != separator_) {
            if (peek() == '"')
                return syntax(place_, "a quote inside a field that does not begin with one",
                              "put the whole field in quotes and double the quotes inside");
            if (peek() == '\r')
                return syntax(place_, "a carriage return without line feed",
                              "save with line ends of Windows or Unix");
            if (peek() == '\0')
                return syntax(place_, "a zero byte",
                              "save the table as CSV in UTF-8, not as Unicode text or a workbook");
            field.text.push_back(take());
        }
        return std::nullopt;
    }

    std::optional<Fault> read_quoted(CsvField& field) {
        take();
        while (at_ < text_.size()) {
            const char c = take();
            if (c != '"') {
                field.text.push_back(c);
            } else if (at_ < text_.size() && peek() == '"') {
                field.text.push_back(take());
            } else if (at_line_end() || peek() == separator_) {
                return std::nullopt;
            } else {
                return syntax(place_, "text behind a closing quote",
                              "double the quotes that belong to the field");
            }
        }
        return syntax(field.at, "a quote that is never closed",
                      "close it, or double the quotes inside a field");
    }

    std::string_view text_;
    const std::string& file_;
    char separator_;
    std::size_t at_ = 0;
    TextPosition place_;
};

}  // namespace

Result<CsvText> parse_csv(std::string_view text, const std::string& name) {
    if (text.size() > csv_bytes_max)
        return Fault{FaultCode::file_too_large,
                     "the file has " + std::to_string(text.size()) + " bytes, at most " +
                         std::to_string(csv_bytes_max) + " are read",
                     name, "split it"};
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF"))
        return Fault{FaultCode::syntax, "the text is UTF-16", where(name, {}),
                     "save the table as CSV in UTF-8"};
    CsvText out;
    out.separator = separator_of(text);
    CsvReader reader(text, name, out.separator);
    if (auto fault = reader.read(out)) return *fault;
    return out;
}

std::string with_decimal_point(std::string_view number, char separator) {
    std::string out(number);
    if (separator != ',' && std::count(out.begin(), out.end(), ',') == 1) out[out.find(',')] = '.';
    return out;
}

std::string csv_field(std::string_view text) {
    if (text.find_first_of(",\"\n\r") == std::string_view::npos) return std::string(text);
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"') out.push_back('"');
        out.push_back(c);
    }
    return out + "\"";
}

}  // namespace tipwright
