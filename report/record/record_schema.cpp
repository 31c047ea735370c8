#include "report/record/record_schema.hpp"

#include <boost/core/demangle.hpp>
#include <nlohmann/json.hpp>

#include <map>
#include <optional>
#include <set>
#include <stdexcept>
#include <typeinfo>
#include <vector>

#include "report/record/evaluation_fields.hpp"
#include "report/record/record_json.hpp"

namespace tipwright::report {

namespace {

using OrderedJson = nlohmann::ordered_json;

// calib::StepResult stands in the schema as StepResult.
template <class T>
std::string name_of() {
    const std::string full = boost::core::demangle(typeid(T).name());
    return full.substr(full.rfind(':') + 1);
}

class Notes {
public:
    Notes() {
        for (const SchemaNote& note : record_schema_notes()) notes_[note.field] = note.note;
    }
    void add_to(OrderedJson& node, const std::string& field) {
        const auto found = notes_.find(field);
        if (found == notes_.end()) return;
        OrderedJson noted{{"description", found->second}};
        noted.update(node);
        node = std::move(noted);
        used_.insert(field);
    }
    void expect_all_used() const {
        for (const auto& [field, note] : notes_)
            if (!used_.contains(field))
                throw std::logic_error("record_schema_notes.cpp has a note on " + field +
                                       ", which no record has");
    }

private:
    std::map<std::string, std::string> notes_;
    std::set<std::string> used_;
};

class Schema {
public:
    template <class T>
    OrderedJson object() {
        T sample{};
        const std::string name = name_of<T>();
        Object object{*this, name, OrderedJson::array(), OrderedJson::object()};
        json::describe(object, sample);
        return OrderedJson{{"type", "object"},
                           {"additionalProperties", false},
                           {"required", std::move(object.required)},
                           {"properties", std::move(object.properties)}};
    }

    OrderedJson definitions() && { return std::move(definitions_); }
    Notes& notes() { return notes_; }

private:
    Notes notes_;
    OrderedJson definitions_ = OrderedJson::object();

    // The visitor of fields.hpp: one property a field.
    struct Object {
        Schema& schema;
        std::string name;
        OrderedJson required;
        OrderedJson properties;

        void add(const char* key, OrderedJson node) {
            required.push_back(key);
            schema.notes_.add_to(node, name + "." + key);
            properties[key] = std::move(node);
        }
        template <class T>
        void field(const char* key, const T& value) {
            add(key, schema.type(value, nullptr));
        }
        template <class T>
        void field(const char* key, const T& value, json::Range range) {
            add(key, schema.type(value, &range));
        }
        void dof(const char* key, double) {
            add(key, OrderedJson{{"type", {"number", "null"}}, {"exclusiveMinimum", 0}});
        }
        void dof_or_unknown(const char* key, double) {
            add(key, OrderedJson{{"type", {"number", "null"}}, {"minimum", 0}});
        }
        template <class Enum, class Names>
        void choice(const char* key, Enum, const Names& names) {
            add(key, OrderedJson{{"enum", std::vector<std::string>(names.begin(), names.end())}});
        }
    };

    static void limit(OrderedJson& node, const json::Range* range) {
        const auto bound = [&](const char* key, double value) {
            if (value == static_cast<double>(static_cast<long long>(value))) {
                node[key] = static_cast<long long>(value);
            } else {
                node[key] = value;
            }
        };
        if (!range) return;
        bound("minimum", range->low);
        if (range->high < json::any_size) bound("maximum", range->high);
    }

    OrderedJson type(bool, const json::Range*) { return OrderedJson{{"type", "boolean"}}; }
    OrderedJson type(double, const json::Range* range) {
        OrderedJson node{{"type", "number"}};
        limit(node, range);
        return node;
    }
    OrderedJson type(int, const json::Range* range) {
        OrderedJson node{{"type", "integer"}};
        limit(node, range);
        return node;
    }
    OrderedJson type(std::size_t, const json::Range* range) {
        OrderedJson node{{"type", "integer"}, {"minimum", 0}};
        limit(node, range);
        return node;
    }
    OrderedJson type(const std::string&, const json::Range*) {
        if (!definitions_.contains("Text")) {
            definitions_["Text"] = OrderedJson{{"type", "string"}, {"maxLength", max_record_string_bytes}};
            notes_.add_to(definitions_["Text"], "Text");
        }
        return OrderedJson{{"$ref", "#/$defs/Text"}};
    }
    template <class T>
    OrderedJson type(const std::optional<T>&, const json::Range* range) {
        OrderedJson node = type(T{}, range);
        if (node.contains("$ref")) return OrderedJson{{"oneOf", {node, {{"type", "null"}}}}};
        node["type"] = OrderedJson::array({node["type"], "null"});
        return node;
    }
    template <class T>
    OrderedJson type(const std::vector<T>&, const json::Range* range) {
        return OrderedJson{{"type", "array"}, {"maxItems", max_record_list}, {"items", type(T{}, range)}};
    }
    template <class T>
    requires(std::is_class_v<T>) OrderedJson type(const T&, const json::Range*) {
        const std::string name = name_of<T>();
        if (!definitions_.contains(name)) {
            definitions_[name] = nullptr;  // its place, before those of its own fields
            OrderedJson node = object<T>();
            notes_.add_to(node, name);
            definitions_[name] = std::move(node);
        }
        return OrderedJson{{"$ref", "#/$defs/" + name}};
    }
};

constexpr std::size_t line_width = 120;

// On one line what fits there.
void print(std::string& out, const OrderedJson& node, std::size_t indent, std::size_t before) {
    const std::string line = node.dump(-1, ' ');
    if (!node.is_structured() || before + line.size() + node.size() < line_width) {
        bool quoted = false;
        for (std::size_t i = 0; i < line.size(); ++i) {
            if (line[i] == '"' && (i == 0 || line[i - 1] != '\\')) quoted = !quoted;
            out += line[i];
            if (!quoted && (line[i] == ',' || line[i] == ':')) out += ' ';
        }
        return;
    }
    const std::string margin(indent + 2, ' ');
    bool first = true;
    out += node.is_object() ? "{\n" : "[\n";
    for (const auto& item : node.items()) {
        if (!first) out += ",\n";
        first = false;
        out += margin;
        const std::string key = node.is_object() ? OrderedJson(item.key()).dump() + ": " : "";
        out += key;
        print(out, item.value(), indent + 2, indent + 2 + key.size());
    }
    out += '\n' + std::string(indent, ' ') + (node.is_object() ? '}' : ']');
}

}  // namespace

std::string record_schema() {
    Schema schema;
    OrderedJson record = schema.object<Record>();
    OrderedJson required{"format", "version"};
    for (const auto& key : record["required"]) required.push_back(key);
    OrderedJson properties{{"format", {{"const", std::string(record_format)}}},
                           {"version", {{"const", std::string(record_version)}}}};
    schema.notes().add_to(properties["version"], "Record.version");
    properties.update(record["properties"]);
    OrderedJson root{{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                     {"title", std::string("tipwright record, version ") + record_version}};
    OrderedJson described = OrderedJson::object();
    schema.notes().add_to(described, "Record");
    root.update(described);
    root["type"] = "object";
    root["additionalProperties"] = false;
    root["required"] = std::move(required);
    root["properties"] = std::move(properties);
    schema.notes().expect_all_used();
    root["$defs"] = std::move(schema).definitions();
    std::string out;
    print(out, root, 0, 0);
    return out + '\n';
}

}  // namespace tipwright::report
