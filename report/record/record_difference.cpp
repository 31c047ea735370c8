#include "report/record/record_difference.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace tipwright::report {

namespace {

using OrderedJson = nlohmann::ordered_json;

constexpr double relative_rounding = 1e-12;
constexpr double share_of_u = 1e-6;
constexpr std::size_t most_differences = 1000;
constexpr std::size_t most_text = 60;

std::string shown(const OrderedJson* value) {
    if (value == nullptr) return "nothing";
    std::string text = value->dump(-1, ' ', false, OrderedJson::error_handler_t::replace);
    if (text.size() > most_text) text = "a list or text of " + std::to_string(text.size()) + " bytes";
    return text;
}

bool is_result(const std::string& path) {
    return path.rfind("$.evaluation", 0) == 0 && path.find(".observation") == std::string::npos;
}

class Comparison {
public:
    void compare(const std::string& path, const OrderedJson* stored, const OrderedJson* computed, double u) {
        if (found_.size() >= most_differences) return;
        if (stored == nullptr || computed == nullptr ||
            (!both_numbers(*stored, *computed) && stored->type() != computed->type())) {
            add(path, stored, computed, false);
        } else if (stored->is_object()) {
            compare_objects(path, *stored, *computed);
        } else if (stored->is_array()) {
            for (std::size_t i = 0; i < std::max(stored->size(), computed->size()); ++i)
                compare(path + "[" + std::to_string(i) + "]", at(*stored, i), at(*computed, i), 0);
        } else if (*stored != *computed) {
            add(path, stored, computed,
                is_result(path) && both_numbers(*stored, *computed) && rounds_alike(*stored, *computed, u));
        }
    }

    std::vector<FieldDifference> take() { return std::move(found_); }

private:
    static bool both_numbers(const OrderedJson& a, const OrderedJson& b) {
        return a.is_number() && b.is_number();
    }

    static const OrderedJson* at(const OrderedJson& list, std::size_t i) {
        return i < list.size() ? &list[i] : nullptr;
    }

    static const OrderedJson* at(const OrderedJson& object, const std::string& key) {
        const auto found = object.find(key);
        return found == object.end() ? nullptr : &*found;
    }

    static bool rounds_alike(const OrderedJson& stored, const OrderedJson& computed, double u) {
        // Whole numbers are counts, or doubles that differ by far more than rounding.
        if (stored.is_number_integer() && computed.is_number_integer()) return false;
        const auto a = stored.get<double>();
        const auto b = computed.get<double>();
        return std::fabs(a - b) <=
               std::max(relative_rounding * std::max(std::fabs(a), std::fabs(b)), share_of_u * u);
    }

    void compare_objects(const std::string& path, const OrderedJson& stored, const OrderedJson& computed) {
        double u = 0;
        for (const OrderedJson* object : {&stored, &computed}) {
            const OrderedJson* stated = at(*object, "u");
            const double value = stated != nullptr && stated->is_number() ? stated->get<double>() : 0;
            // The smaller of the two: nobody widens the tolerance by editing u.
            u = object == &stored ? value : std::min(u, value);
        }
        const std::string inside = path + ".";
        for (const auto& [key, value] : stored.items())
            compare(inside + key, &value, at(computed, key), key == "value" ? u : 0);
        for (const auto& [key, value] : computed.items())
            if (!stored.contains(key)) compare(inside + key, nullptr, &value, 0);
    }

    void add(const std::string& path, const OrderedJson* stored, const OrderedJson* computed,
             bool within_rounding) {
        found_.push_back({path, shown(stored), shown(computed), within_rounding, is_result(path)});
    }

    std::vector<FieldDifference> found_;
};

}  // namespace

std::vector<FieldDifference> record_differences(std::string_view stored, std::string_view computed) {
    if (stored == computed) return {};
    const OrderedJson a = OrderedJson::parse(stored, nullptr, false);
    const OrderedJson b = OrderedJson::parse(computed, nullptr, false);
    if (a.is_discarded() || b.is_discarded()) return {{"$", "a text", "another text", false, false}};
    Comparison comparison;
    comparison.compare("$", &a, &b, 0);
    auto found = comparison.take();
    // Equal values in another form, as 1.0 and 1.00: not what the program writes.
    if (found.empty())
        found.push_back({"$", "another form of the same values", "the program's own form", false, false});
    return found;
}

std::string RecordAgreement::text() const {
    if (count == 0) return "";
    return first.path + ": " + first.stored + " stored, " + first.computed + " computed" +
           (count > 1 ? ", and " + std::to_string(count - 1) + " more" : "");
}

RecordAgreement agreement_of(const std::vector<FieldDifference>& differences, bool same_version) {
    const auto rank = [same_version](const FieldDifference& difference) {
        if (difference.within_rounding) return Agreement::within_rounding;
        return difference.result && !same_version ? Agreement::otherwise_by_version
                                                  : Agreement::beyond_rounding;
    };
    RecordAgreement result;
    for (const auto& difference : differences) {
        const Agreement one = rank(difference);
        if (one > result.agreement) result = {one, difference, 0};
        if (one == result.agreement) ++result.count;
    }
    return result;
}

}  // namespace tipwright::report
