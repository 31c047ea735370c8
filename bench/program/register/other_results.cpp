#include "bench/program/register/other_results.hpp"

namespace tipwright::program {

namespace {

std::string place_of(const Session& session) {
    return session.location.empty() ? data_folder("register").string() : session.location;
}

}  // namespace

Result<report::OtherResults> open_other_results(const Session& session) {
    // Says what is wrong with the place, as every command does.
    if (auto reg = open_register(session); !reg) return reg.fault();
    const auto now = desk_time();
    if (!now) return now.fault();
    return report::OtherResults::open(place_of(session), *now);
}

Fault without_register(Fault none, const Session& session, const Fault& missing) {
    const std::string place = place_of(session);
    if (!session.location.empty()) {  // it was said where: that there is none is the fault
        none.what = "there is no register, and " + none.what;
        none.where = place;
        none.remedy = missing.remedy;
    } else {
        none.what += "; there is no register in " + place;
    }
    return none;
}

}  // namespace tipwright::program
