// The page's desk over the register, the descriptions and this program itself: see bench/page/desk/desk.hpp.
#pragma once

#include <atomic>
#include <memory>

#include "bench/page/desk/desk.hpp"
#include "bench/program/common_options.hpp"
#include "bench/program/register/maker.hpp"

namespace tipwright::program {

struct DeskOptions {
    CommonOptions common;
    std::filesystem::path work;                      // of the runs, absolute
    std::string location;                            // of the register
    std::string bench, plan_as_found, plan_as_left;  // of the settings; empty: none
    std::filesystem::path keys;
    std::string bench_code;
    std::string check_gauge;  // serial number; empty: none is asked
    Layout layout;
    std::shared_ptr<std::atomic<bool>> filling;  // a trial enters its invented years; null: no trial
    std::optional<double> speed;                 // of virtual benches; none: as fast as can be
};

std::unique_ptr<page::Desk> make_desk(DeskOptions options);

}  // namespace tipwright::program
