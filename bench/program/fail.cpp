#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/common_options.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

ExitCode fail(const CommonOptions& common, const Fault& fault, ExitCode code) {
    if (common.json) {
        const nlohmann::ordered_json report = {{"ok", false},
                                               {"exit_code", static_cast<int>(code)},
                                               {"fault",
                                                {{"code", name_of(fault.code)},
                                                 {"what", fault.what},
                                                 {"where", fault.where},
                                                 {"remedy", fault.remedy}}}};
        print_json(report);
    }
    print_to(stderr, "tipwright: %s\n", fault.line().c_str());
    return code;
}

}  // namespace tipwright::program
