// What the check of depth lets pass never lies deep in what the TOML parser makes of it, so its stack holds.
#include <toml++/toml.h>

#include <algorithm>

#include "report/files/toml_depth.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

namespace {

int depth_of(const toml::node& node) {
    int deepest = 0;
    if (const auto* table = node.as_table())
        for (const auto& [key, child] : *table) deepest = std::max(deepest, depth_of(child));
    if (const auto* array = node.as_array())
        for (const auto& child : *array) deepest = std::max(deepest, depth_of(child));
    return deepest + 1;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text = fuzz::text_of(data, size);
    const Outcome shallow = report::check_toml_depth(text, "text.toml");
    if (!shallow) {
        fuzz::must(shallow.fault().where.starts_with("text.toml:"), "a fault names the place");
        return 0;
    }
    try {
        const toml::table table = toml::parse(text);
        // The table itself, a heading, a key and the value at its end.
        fuzz::must(depth_of(table) <= 2 * report::toml_depth_max + 4, "what is let pass is not deep");
    } catch (const toml::parse_error&) {
        return 0;
    }
    return 0;
}
