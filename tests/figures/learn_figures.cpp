// Learned profiles: how many instruments, of the shipped profiles and of thirty made-up balances, end up with
// a profile that reads them rightly, after a person did what 'listen --learn' asked: of the made-up ones
// every one of 500 later lines as the balance meant it, of the shipped ones the profile that it is.
#include <cstdlib>

#include "tests/support/figure.hpp"
#include "tests/support/learned.hpp"
#include "tests/support/learning.hpp"
#include "tests/support/shipped_devices.hpp"

int main() {
    using namespace tipwright;
    int right = 0;
    for (const auto& profile : test::shipped_profiles()) {
        const std::string wrong = test::taken_wrongly(profile);
        right += wrong.empty();
        std::printf("%s: %s\n", test::name_of(profile).c_str(), wrong.empty() ? "right" : wrong.c_str());
    }
    int asked = 0;
    for (const auto& balance : test::made_up_balances()) {
        test::Helper helper;
        const auto learned = test::learned_of(balance, "", 7, helper, test::shipped_profiles());
        const std::string wrong = !learned ? learned.fault().line()
                                  : !learned->as.empty()
                                      ? "taken for " + learned->as
                                      : test::read_wrongly(balance, learned->toml, learned->doubts, 7);
        right += wrong.empty();
        asked += learned && !learned->doubts.empty();
        if (!wrong.empty()) std::printf("%s: %s\n", balance.name.c_str(), wrong.c_str());
    }
    std::printf("%d of the made-up ones with a question left\n", asked);
    return test::figure("learn_right_of_45", right, "", ">=", 40) ? EXIT_SUCCESS : EXIT_FAILURE;
}
