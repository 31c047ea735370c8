// One JSON document on standard output, text that is no UTF-8 replaced.
#pragma once

#include <cstdio>
#include <nlohmann/json.hpp>

namespace tipwright::program {

inline void print_json(const nlohmann::ordered_json& document) {
    std::printf("%s\n", document.dump(2, ' ', false, nlohmann::json::error_handler_t::replace).c_str());
}

}  // namespace tipwright::program
