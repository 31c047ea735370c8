#include "report/register/csv.hpp"

#include <charconv>
#include <cmath>

#include "report/files/inert_text.hpp"

namespace tipwright::report {
namespace {

char separator_of(std::string_view text) {
    const std::string_view heading = text.substr(0, text.find('\n'));
    for (const char candidate : {';', '\t'})
        if (heading.find(candidate) != std::string_view::npos) return candidate;
    return ',';
}

class Reader {
public:
    Reader(std::string_view text, const std::string& name, char separator)
        : text_(text), name_(name), separator_(separator) {}

    Result<CsvText> read() {
        CsvText out;
        out.separator = separator_;
        while (at_ < text_.size()) {
            CsvLine line;
            line.line = line_;
            for (;;) {
                if (line.fields.size() == max_csv_fields)
                    return fault(FaultCode::syntax,
                                 "more than " + std::to_string(max_csv_fields) + " fields");
                Result<CsvField> field = read_field();
                if (!field) return field.fault();
                field->text = from_inert(field->text);
                line.fields.push_back(std::move(*field));
                if (at_ < text_.size() && text_[at_] == separator_) {
                    step();
                    continue;
                }
                break;
            }
            if (at_ < text_.size() && text_[at_] == '\r') step();
            if (at_ < text_.size() && text_[at_] == '\n') step();
            if (line.fields.size() > 1 || !line.fields.front().text.empty())
                out.lines.push_back(std::move(line));
        }
        return out;
    }

private:
    Result<CsvField> read_field() {
        CsvField out;
        out.column = column_;
        if (at_ < text_.size() && text_[at_] == '"') {
            step();
            for (;;) {
                if (at_ == text_.size())
                    return fault(FaultCode::syntax, "the quote that begins here is not closed", out.column);
                if (text_[at_] == '"') {
                    step();
                    if (at_ == text_.size() || text_[at_] != '"') break;
                }
                out.text.push_back(text_[at_]);
                step();
            }
            if (!at_end()) return fault(FaultCode::syntax, "text after a closing quote");
            return out;
        }
        while (!at_end()) {
            if (text_[at_] == '"')
                return fault(FaultCode::syntax, "a quote inside a field that is not quoted");
            out.text.push_back(text_[at_]);
            step();
        }
        return out;
    }

    bool at_end() const {
        return at_ == text_.size() || text_[at_] == separator_ || text_[at_] == '\n' ||
               (text_[at_] == '\r' && at_ + 1 < text_.size() && text_[at_ + 1] == '\n');
    }

    void step() {
        if (text_[at_] == '\n') {
            ++line_;
            column_ = 1;
        } else if ((static_cast<unsigned char>(text_[at_]) & 0xC0) != 0x80) {
            ++column_;
        }
        ++at_;
    }

    Fault fault(FaultCode code, std::string what, int column = 0) const {
        return {code, std::move(what),
                name_ + ":" + std::to_string(line_) + ":" + std::to_string(column > 0 ? column : column_),
                ""};
    }

    std::string_view text_;
    const std::string& name_;
    char separator_;
    std::size_t at_ = 0;
    int line_ = 1;
    int column_ = 1;
};

}  // namespace

Result<CsvText> read_csv(std::string_view text, const std::string& name) {
    if (text.size() > max_csv_bytes)
        return Fault{FaultCode::file_too_large, "larger than " + std::to_string(max_csv_bytes) + " bytes",
                     name, ""};
    if (text.starts_with("\xef\xbb\xbf")) text.remove_prefix(3);
    return Reader(text, name, separator_of(text)).read();
}

bool csv_number(std::string_view text, char separator, double& out) {
    std::string plain(text);
    if (separator != ',')
        if (const std::size_t comma = plain.find(','); comma != std::string::npos) plain[comma] = '.';
    const auto [end, error] = std::from_chars(plain.data(), plain.data() + plain.size(), out);
    return error == std::errc{} && end == plain.data() + plain.size() && std::isfinite(out);
}

}  // namespace tipwright::report
