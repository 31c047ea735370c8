#include <charconv>
#include <cmath>
#include <optional>
#include <stdexcept>
#include <type_traits>
#include <vector>

#include "calib/base/ascii.hpp"
#include "calib/base/text.hpp"
#include "report/record/evaluation_fields.hpp"
#include "report/record/record_json.hpp"

namespace tipwright::report {

namespace {

template <class T>
inline constexpr bool is_scalar = std::is_arithmetic_v<T> || std::is_same_v<T, std::string>;

// A small struct reads better on one line.
template <class T>
inline constexpr bool on_one_line =
    std::is_same_v<T, calib::Uncertain> || std::is_same_v<T, calib::Expanded> ||
    std::is_same_v<T, calib::Interval> || std::is_same_v<T, calib::GumValidation> ||
    std::is_same_v<T, calib::Contact> || std::is_same_v<T, calib::FindingNumber> ||
    std::is_same_v<T, calib::Reservation> || std::is_same_v<T, calib::StepStatement> ||
    std::is_same_v<T, calib::CapabilityPoint> || std::is_same_v<T, calib::PermittedRange> ||
    std::is_same_v<T, calib::Signatory>;

class Writer {
public:
    explicit Writer(std::string& out) : out_(out) {}

    void open(bool one_line = false) {
        out_ += '{';
        ++depth_;
        one_line_ = one_line;
        first_ = true;
    }
    void close() {
        --depth_;
        if (!one_line_) new_line();
        out_ += '}';
        one_line_ = false;
        first_ = false;
    }

    template <class T>
    void field(const char* key, const T& value) {
        begin(key);
        write(key, value);
    }
    template <class T>
    void field(const char* key, const T& value, json::Range) {
        field(key, value);
    }
    void dof(const char* key, double value) {
        begin(key);
        if (std::isinf(value) && value > 0) {
            out_ += "null";
        } else {
            write(key, value);
        }
    }
    void dof_or_unknown(const char* key, double value) { dof(key, value); }
    template <class Enum, class Names>
    void choice(const char* key, Enum value, const Names& names) {
        begin(key);
        out_ += '"';
        out_ += names.at(static_cast<std::size_t>(value));
        out_ += '"';
    }

private:
    std::string& out_;
    int depth_ = 0;
    bool first_ = true;
    bool one_line_ = false;

    void new_line() {
        out_ += '\n';
        out_.append(static_cast<std::size_t>(depth_), ' ');
    }

    void begin(const char* key) {
        if (!first_) out_ += one_line_ ? ", " : ",";
        first_ = false;
        if (!one_line_) new_line();
        out_ += '"';
        out_ += key;
        out_ += "\": ";
    }

    void write(const char*, bool value) { out_ += value ? "true" : "false"; }
    void write(const char*, int value) { out_ += std::to_string(value); }
    void write(const char*, std::size_t value) { out_ += std::to_string(value); }

    void write(const char* key, double value) {
        if (!std::isfinite(value))
            throw std::domain_error(std::string("record holds a number that is not finite: ") + key);
        if (value == 0 && std::signbit(value)) {
            out_ += "-0.0";  // "-0" would read back as an integer and lose its sign
            return;
        }
        char buffer[32];
        const auto end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
        out_.append(buffer, end);
    }

    void write(const char*, const std::string& text) {
        out_ += '"';
        for (std::size_t at = 0; at < text.size();) {
            const char32_t point = next_code_point(text, at);
            if (point == '"' || point == '\\') {
                out_ += '\\';
                out_ += static_cast<char>(point);
            } else if (point < 0x20 || point == 0x7F) {
                out_ += "\\u";
                append_hex(out_, point, 4);
            } else {
                append_utf8(out_, point);
            }
        }
        out_ += '"';
    }

    template <class T>
    void write(const char* key, const std::optional<T>& value) {
        if (value) {
            write(key, *value);
        } else {
            out_ += "null";
        }
    }

    template <class T>
    void write(const char* key, const std::vector<T>& values) {
        constexpr bool inline_list = is_scalar<T> && !std::is_same_v<T, std::string>;
        out_ += '[';
        ++depth_;
        for (std::size_t i = 0; i < values.size(); ++i) {
            if (i) out_ += inline_list ? ", " : ",";
            if (!inline_list) new_line();
            write(key, values[i]);
        }
        --depth_;
        if (!inline_list && !values.empty()) new_line();
        out_ += ']';
    }

    template <class T>
    requires(std::is_class_v<T>) void write(const char*, const T& value) {
        const bool outer = one_line_;
        open(on_one_line<T>);
        json::describe(*this, value);
        close();
        one_line_ = outer;
    }
};

}  // namespace

std::string record_to_json(const Record& record) {
    std::string out;
    Writer writer(out);
    writer.open();
    writer.field("format", std::string(record_format));
    writer.field("version", record.version);
    json::describe(writer, record);
    writer.close();
    out += '\n';
    return out;
}

}  // namespace tipwright::report
