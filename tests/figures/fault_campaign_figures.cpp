// The fault campaign: thousands of runs in lockstep with random faults of links, instruments, water, gauge
// and disk, deterministic by seed. Argument: number of runs (default 5000); a second: print that one run's
// fate.
//   wrong: a certificate was issued, and the error of some step lies more than 3 U from the truth of the
//     bench. U is stated at about 95 %, so of sound results one in twenty lies beyond 1 U, and of some 10 000
//     steps here a few beyond 2 U (normal: 1 in 11 000 at k = 2, more with few degrees of freedom); 3 U is
//     six standard uncertainties, which chance does not reach. The healthy runs among them show where chance
//     ends. When the gauge itself is at fault (contacts, bucket), what it indicates is really not its curve:
//     then a certificate that names the fault is right.
//   lost: tips that the gauge made within a collect that was kept, that were not counted, and of which no
//   finding
//     tells.
//   pump: seconds it ran on after the fault was detectable: after the instruments' own time limits had passed
//     where the fault has a sure sign, and in every case after the run had noticed it. A pump whose own link
//     is harmed, or that refuses to do what it is told, can be out of everybody's reach; one that stops by
//     itself must have done so, else the operator must have been told to pull the plug.
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <string>

#include "tests/support/fault_campaign.hpp"
#include "tests/support/figure.hpp"

using namespace tipwright::test;

namespace {

constexpr double beyond_chance_in_U = 3;
constexpr double longest_running_on_s = 2;
constexpr std::uint64_t runs_per_process = 100;

struct Tally {
    long runs = 0, certificates = 0, wrong = 0, lost = 0, running_on = 0, crashes = 0, unreadable = 0;
    long out_of_reach = 0, not_told = 0, named = 0, late = 0;
    double healthy_worst_in_U = 0;
};

std::string names_of(const FaultCase& one) {
    std::string names;
    for (const auto& name : one.faults) names += (names.empty() ? "" : " + ") + name;
    return names.empty() ? "healthy" : names;
}

void tell(const char* what, const FaultCase& one, const CaseResult& result) {
    std::printf(
        "# %s: seed %llu, %s, %s from %.1f s: %.2f U, lost %d, noticed %.1f s (sure %.4g), pump until %.1f "
        "s, %s\n",
        what, static_cast<unsigned long long>(one.seed), one.gauge.c_str(), names_of(one).c_str(), one.from_s,
        result.worst_in_U, result.tips_lost_unnoticed, result.noticed_s, one.sure_sign_s,
        result.pump_ran_until_s, result.end.c_str());
}

void count(const FaultCase& one, const CaseResult& result, Tally& tally) {
    ++tally.runs;
    if (!result.journal_readable) {
        ++tally.unreadable;
        tell("unreadable journal", one, result);
    }
    if (result.certificate) {
        ++tally.certificates;
        const bool beyond = result.worst_in_U > beyond_chance_in_U;
        if (beyond && one.gauge_is_at_fault && result.named) {
            ++tally.named;
        } else if (beyond) {
            ++tally.wrong;
            tell("wrong certificate", one, result);
        }
        if (one.faults.empty())
            tally.healthy_worst_in_U = std::max(tally.healthy_worst_in_U, result.worst_in_U);
        if (result.tips_lost_unnoticed > 0) {
            tally.lost += result.tips_lost_unnoticed;
            tell("tips lost", one, result);
        }
    }
    // Detectable: by a sure sign, or else when the run noticed.
    if (one.sure_sign_s < std::min(result.noticed_s, result.pump_ran_until_s) - longest_running_on_s) {
        ++tally.late;
        tell("noticed late", one, result);
    }
    const double detectable_s = std::min(result.noticed_s, one.sure_sign_s);
    if (result.pump_ran_until_s <= detectable_s + longest_running_on_s) return;
    if ((one.pump_may_be_out_of_reach && !one.pump_stops_by_itself) || one.pump_refuses) {
        ++tally.out_of_reach;
        if (!result.told_to_pull_the_plug) {
            ++tally.not_told;
            tell("not told to pull the plug", one, result);
        }
        return;
    }
    ++tally.running_on;
    tell("pump ran on", one, result);
}

// A child runs a share of the seeds, so that a crash is one crash and not the end.
bool run_share(std::uint64_t first, std::uint64_t end, Tally& tally) {
    int ends[2];
    if (::pipe(ends) != 0) return false;
    std::fflush(stdout);
    const pid_t child = ::fork();
    if (child == 0) {
        ::close(ends[0]);
        Tally own;
        for (std::uint64_t seed = first; seed < end; ++seed) {
            const FaultCase one = make_fault_case(seed);
            count(one, run_fault_case(one), own);
        }
        std::fflush(stdout);
        const bool told = ::write(ends[1], &own, sizeof own) == static_cast<ssize_t>(sizeof own);
        std::_Exit(told ? 0 : 3);
    }
    ::close(ends[1]);
    Tally share;
    const bool heard = ::read(ends[0], &share, sizeof share) == static_cast<ssize_t>(sizeof share);
    ::close(ends[0]);
    int status = 0;
    ::waitpid(child, &status, 0);
    if (!heard || !WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        std::printf("# crash among seeds %llu to %llu, status %d\n", static_cast<unsigned long long>(first),
                    static_cast<unsigned long long>(end - 1), status);
        ++tally.crashes;
        return true;
    }
    for (long Tally::*field :
         {&Tally::runs, &Tally::certificates, &Tally::wrong, &Tally::lost, &Tally::running_on,
          &Tally::unreadable, &Tally::out_of_reach, &Tally::not_told, &Tally::named, &Tally::late})
        tally.*field += share.*field;
    tally.healthy_worst_in_U = std::max(tally.healthy_worst_in_U, share.healthy_worst_in_U);
    return true;
}

bool all_ok = true;

void figure(const char* name, double value, const char* unit, const char* op, double limit) {
    all_ok = tipwright::test::figure(name, value, unit, op, limit, 6) && all_ok;
}

}  // namespace

int main(int argc, char** argv) {
    const std::uint64_t wanted = argc > 1 ? std::strtoull(argv[1], nullptr, 10) : 5000;
    if (argc > 2) {
        const FaultCase one = make_fault_case(std::strtoull(argv[2], nullptr, 10));
        tell("run", one, run_fault_case(one));
        return 0;
    }
    Tally tally;
    for (std::uint64_t first = 1; first <= wanted; first += runs_per_process) {
        if (!run_share(first, std::min(first + runs_per_process, wanted + 1), tally)) return 1;
    }
    figure("fault_campaign_runs", static_cast<double>(tally.runs), "1", ">=", static_cast<double>(wanted));
    figure("fault_campaign_certificates_issued", static_cast<double>(tally.certificates), "1", ">=", 0);
    figure("fault_campaign_healthy_worst_error_in_U", tally.healthy_worst_in_U, "U",
           "<=", beyond_chance_in_U);
    figure("fault_campaign_wrong_certificates", static_cast<double>(tally.wrong), "1", "<=", 0);
    figure("fault_campaign_gauge_faults_named_on_certificate", static_cast<double>(tally.named), "1",
           ">=", 0);
    figure("fault_campaign_tips_lost_without_notice", static_cast<double>(tally.lost), "1", "<=", 0);
    figure("fault_campaign_sure_signs_noticed_late", static_cast<double>(tally.late), "1", "<=", 0);
    figure("fault_campaign_pump_ran_on_2s", static_cast<double>(tally.running_on), "1", "<=", 0);
    figure("fault_campaign_pump_out_of_reach", static_cast<double>(tally.out_of_reach), "1", ">=", 0);
    figure("fault_campaign_out_of_reach_not_told", static_cast<double>(tally.not_told), "1", "<=", 0);
    figure("fault_campaign_unreadable_journals", static_cast<double>(tally.unreadable), "1", "<=", 0);
    figure("fault_campaign_crashes", static_cast<double>(tally.crashes), "1", "<=", 0);
    return all_ok ? 0 : 1;
}
