#include <nlohmann/json.hpp>

#include <set>
#include <vector>

#include "calib/base/format_version.hpp"
#include "calib/base/text.hpp"
#include "report/record/evaluation_fields.hpp"
#include "report/record/record_json.hpp"
#include "report/record/record_upgrade.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report {

namespace {

using Json = nlohmann::json;

constexpr int max_depth = 24;

std::string shortened(const Json& node) {
    std::string text = node.dump(-1, ' ', false, Json::error_handler_t::replace);
    if (text.size() > 60) text = first_bytes(text, 57) + "...";
    return text;
}

// Where the reader is. Lives on the stack, written out only when something is wrong.
struct Path {
    const Path* above = nullptr;
    const char* key = nullptr;  // null: an index
    std::size_t index = 0;

    std::string text() const {
        if (!above) return "$";
        return above->text() + (key ? "." + std::string(key) : "[" + std::to_string(index) + "]");
    }
};

class Reader {
public:
    Reader(const Json& node, const Path& path, const std::string& name, std::optional<Fault>& fault)
        : node_(node), path_(path), name_(name), fault_(fault) {}

    template <class T>
    void field(const char* key, T& value) {
        with(key, [&](const Json& node, const Path& path) { read(node, path, value, nullptr); });
    }
    template <class T>
    void field(const char* key, T& value, json::Range range) {
        with(key, [&](const Json& node, const Path& path) { read(node, path, value, &range); });
    }
    void dof(const char* key, double& value) { read_dof(key, value, false); }
    void dof_or_unknown(const char* key, double& value) { read_dof(key, value, true); }

    template <class Enum, class Names>
    void choice(const char* key, Enum& value, const Names& names) {
        with(key, [&](const Json& node, const Path& path) {
            std::string expected;
            for (std::size_t i = 0; i < names.size(); ++i) {
                if (node.is_string() && node.get_ref<const std::string&>() == names[i]) {
                    value = static_cast<Enum>(i);
                    return;
                }
                expected += (i ? ", " : "") + std::string(names[i]);
            }
            wrong(path, node, "one of " + expected);
        });
    }

    // After all fields were read: is there a key that no field claimed?
    void finish() {
        if (fault_ || node_.size() == seen_.size()) return;
        for (const auto& item : node_.items()) {
            if (seen_.count(item.key())) continue;
            fault_ = Fault{FaultCode::unknown_field, "unknown field " + Json(item.key()).dump(), where(path_),
                           "remove it, or read the record with the program that wrote it"};
            return;
        }
    }

private:
    const Json& node_;
    const Path& path_;
    const std::string& name_;
    std::optional<Fault>& fault_;
    std::set<std::string, std::less<>> seen_;

    std::string where(const Path& path) const { return name_ + ": " + path.text(); }

    void wrong(const Path& path, const Json& node, const std::string& expected) {
        if (fault_) return;
        fault_ = Fault{FaultCode::bad_value, shortened(node) + " where " + expected + " is expected",
                       where(path), "restore the record from where it was kept"};
    }

    template <class Use>
    void with(const char* key, Use use) {
        if (fault_) return;
        const Path path{&path_, key, 0};
        const auto found = node_.find(key);
        if (found == node_.end()) {
            fault_ = Fault{FaultCode::missing_field, "field is missing", where(path),
                           "restore the record from where it was kept"};
            return;
        }
        seen_.insert(key);
        use(*found, path);
    }

    void read_dof(const char* key, double& value, bool zero_allowed) {
        with(key, [&](const Json& node, const Path& path) {
            if (node.is_null()) {
                value = calib::infinite_dof;
                return;
            }
            read(node, path, value, nullptr);
            if (!fault_ && !(zero_allowed ? value >= 0 : value > 0))
                wrong(path, node, zero_allowed ? "a number >= 0 or null" : "a number > 0 or null");
        });
    }

    static std::string range_text(const json::Range& range) {
        const std::string low = Json(range.low).dump();
        if (range.high >= json::any_size) return "a number >= " + low;
        return "a number from " + low + " to " + Json(range.high).dump();
    }

    void read(const Json& node, const Path& path, bool& value, const json::Range*) {
        if (!node.is_boolean()) return wrong(path, node, "true or false");
        value = node.get<bool>();
    }

    void read(const Json& node, const Path& path, double& value, const json::Range* range) {
        if (!node.is_number()) return wrong(path, node, "a number");
        value = node.get<double>();
        if (range && !(value >= range->low && value <= range->high)) wrong(path, node, range_text(*range));
    }

    void read(const Json& node, const Path& path, int& value, const json::Range* range) {
        constexpr json::Range any_int{-2147483648.0, 2147483647.0};
        if (!node.is_number_integer()) return wrong(path, node, "a whole number");
        const double number = node.get<double>();
        const json::Range& allowed = range ? *range : any_int;
        if (!(number >= allowed.low && number <= allowed.high)) return wrong(path, node, range_text(allowed));
        value = static_cast<int>(number);
    }

    void read(const Json& node, const Path& path, std::size_t& value, const json::Range* range) {
        if (!node.is_number_unsigned()) return wrong(path, node, "a whole number >= 0");
        value = node.get<std::size_t>();
        if (range && !(static_cast<double>(value) <= range->high)) wrong(path, node, range_text(*range));
    }

    void read(const Json& node, const Path& path, std::string& value, const json::Range*) {
        if (!node.is_string()) return wrong(path, node, "a string");
        const std::string& text = node.get_ref<const std::string&>();
        if (text.size() > max_record_string_bytes)
            return wrong(path, node,
                         "a string of at most " + std::to_string(max_record_string_bytes) + " bytes");
        value = text;
    }

    template <class T>
    void read(const Json& node, const Path& path, std::optional<T>& value, const json::Range* range) {
        if (node.is_null()) {
            value.reset();
            return;
        }
        read(node, path, value.emplace(), range);
    }

    template <class T>
    void read(const Json& node, const Path& path, std::vector<T>& values, const json::Range* range) {
        if (!node.is_array()) return wrong(path, node, "a list");
        if (node.size() > max_record_list)
            return wrong(path, node, "a list of at most " + std::to_string(max_record_list) + " entries");
        values.clear();
        values.reserve(node.size());
        for (std::size_t i = 0; i < node.size() && !fault_; ++i) {
            const Path entry{&path, nullptr, i};
            read(node[i], entry, values.emplace_back(), range);
        }
    }

    template <class T>
    requires(std::is_class_v<T>) void read(const Json& node, const Path& path, T& value, const json::Range*) {
        if (!node.is_object()) return wrong(path, node, "an object");
        Reader inner(node, path, name_, fault_);
        json::describe(inner, value);
        inner.finish();
    }
};

std::string line_and_column(std::string_view text, std::size_t byte) {
    std::size_t line = 1;
    std::size_t column = 1;
    for (std::size_t i = 0; i + 1 < byte && i < text.size(); ++i) {
        if (text[i] == '\n') {
            ++line;
            column = 1;
        } else {
            ++column;
        }
    }
    return std::to_string(line) + ":" + std::to_string(column);
}

// Refuses what the document model would swallow: repeated keys (the last would win) and deep nesting.
class Watch {
public:
    explicit Watch(std::optional<Fault>& fault, const std::string& name) : fault_(fault), name_(name) {}

    bool operator()(int depth, Json::parse_event_t event, Json& parsed) {
        if (fault_) return false;
        if (event == Json::parse_event_t::object_start || event == Json::parse_event_t::array_start) {
            if (depth > max_depth)
                fault_ =
                    Fault{FaultCode::bad_value, "nested more than " + std::to_string(max_depth) + " deep",
                          name_, "this is not a tipwright record"};
            keys_.emplace_back();
        } else if (event == Json::parse_event_t::object_end || event == Json::parse_event_t::array_end) {
            keys_.pop_back();
        } else if (event == Json::parse_event_t::key) {
            if (!keys_.back().insert(parsed.get<std::string>()).second)
                fault_ = Fault{FaultCode::duplicate, "field " + parsed.dump() + " stands twice in one object",
                               name_, "keep one of the two"};
        }
        return !fault_;
    }

private:
    std::optional<Fault>& fault_;
    const std::string& name_;
    std::vector<std::set<std::string, std::less<>>> keys_;
};

Result<Json> parse(std::string_view text, const std::string& name) {
    std::optional<Fault> fault;
    Watch watch(fault, name);
    Json document;
    try {
        document = Json::parse(text.begin(), text.end(), std::ref(watch));
    } catch (const Json::parse_error& error) {
        if (!fault)
            fault = Fault{FaultCode::syntax, "not valid JSON", name + ":" + line_and_column(text, error.byte),
                          "restore the record from where it was kept"};
    } catch (const Json::exception&) {
        if (!fault)
            fault = Fault{FaultCode::syntax, "a number too large to read", name,
                          "restore the record from where it was kept"};
    }
    if (fault) return *fault;
    return document;
}

std::optional<Fault> check_version(const Json& document, const std::string& name) {
    if (!document.is_object() || !document.contains("format") || document["format"] != record_format)
        return Fault{FaultCode::bad_value,
                     "not a tipwright record: $.format is not \"" + std::string(record_format) + "\"", name,
                     "give a record written by tipwright"};
    const auto version = document.find("version");
    if (version == document.end())
        return Fault{FaultCode::missing_field, "field is missing", name + ": $.version",
                     "give a record written by tipwright"};
    const auto readable =
        readable_version(version->is_string() ? version->get<std::string>() : shortened(*version),
                         *format_version(record_version), "record", name + ": $.version");
    if (!readable) return readable.fault();
    return std::nullopt;
}

// What no single field can tell.
std::optional<Fault> check_shape(const Record& record, const std::string& name) {
    const auto refuse = [&](const std::string& path, std::string what) {
        return Fault{FaultCode::inconsistent, std::move(what), name + ": $.evaluation" + path,
                     "restore the record from where it was kept"};
    };
    const calib::Evaluation& evaluation = record.evaluation;
    int before = 0;
    for (std::size_t i = 0; i < evaluation.steps.size(); ++i) {
        const int step = evaluation.steps[i].observation.step;
        if (step <= before)
            return refuse(
                ".steps[" + std::to_string(i) + "]",
                "step " + std::to_string(step) + " does not come after step " + std::to_string(before));
        before = step;
    }
    if (!evaluation.model) return std::nullopt;
    for (std::size_t i = 0; i < evaluation.model->candidates.size(); ++i) {
        const calib::RateCandidate& candidate = evaluation.model->candidates[i];
        const std::size_t n = candidate.parameters.size();
        bool square = candidate.covariance.size() == n;
        for (const auto& row : candidate.covariance) square = square && row.size() == n;
        if (!square)
            return refuse(".model.candidates[" + std::to_string(i) + "].covariance",
                          "not a square of the side of the parameters, " + std::to_string(n));
    }
    return std::nullopt;
}

}  // namespace

Result<Record> record_from_json(std::string_view text, const std::string& name) {
    if (text.size() > max_record_bytes)
        return Fault{
            FaultCode::file_too_large,
            std::to_string(text.size()) + " bytes, at most " + std::to_string(max_record_bytes) + " are read",
            name, "give a tipwright record"};
    Result<Json> document = parse(text, name);
    if (!document) return document.fault();
    if (auto fault = check_version(*document, name)) return *fault;

    const FormatVersion from = *format_version((*document)["version"].get<std::string>());
    document->erase("format");
    document->erase("version");
    upgrade_record(*document, from, record_steps());
    Record record;
    std::optional<Fault> fault;
    const Path root;
    Reader reader(*document, root, name, fault);
    json::describe(reader, record);
    reader.finish();
    if (fault) return *fault;
    if (auto shape = check_shape(record, name)) return *shape;
    return record;
}

}  // namespace tipwright::report
