// What `verify` proved and what it did not, in one closing sentence.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "bench/program/register/seal_check.hpp"
#include "report/record/record_difference.hpp"

namespace tipwright::program {

struct Proof {
    std::size_t findings = 0;
    std::size_t wrong = 0;
    std::size_t not_judged = 0;
    std::vector<SealCheck::Proven> sealed;
    bool keys_given = false;
    std::size_t packs = 0;           // whole
    std::size_t unsealed_lists = 0;  // of those, whose table of contents bears no seal
    std::vector<SealCheck::Proven> in_packs;
    std::size_t records = 0;       // whose results were computed again
    std::size_t journals = 0;      // read whole
    std::size_t from_journal = 0;  // files that equal what a journal gives
    std::size_t without_journal = 0;
    std::size_t without_seal = 0;       // records and certificates
    std::size_t unsealed_pages = 0;     // certificates without a whole seal of their own
    std::vector<std::string> not_tied;  // what files of one number nothing shows to belong together
    std::vector<std::string> voids;     // "certificate A is void: B replaced it"
    // What an unsealed record says beside its journal, and the journal does not.
    std::vector<std::string> not_in_journal;
    std::vector<std::string> amended;  // "certificate A by B", where B is not among what was given
    bool may_be_replaced = false;      // no register tells of some certificate whether it still stands
    std::string register_proved;       // empty: no register was given
    std::string register_open;
    bool otherwise = false;  // this version of the program computes some results otherwise
    bool supplied = false;   // some rest on supplied measurements
    bool invented = false;
    bool virtual_bench = false;
};

// The agreement holds, but perhaps for rounding.
bool holds(const report::RecordAgreement& agreement);
std::string agreement_words(const report::RecordAgreement& agreement, const std::string& made_by,
                            const std::string& agrees, const std::string& differs);

std::vector<std::string> proved(const Proof& proof);
std::vector<std::string> not_proved(const Proof& proof);
std::string closing_sentence(const Proof& proof);

}  // namespace tipwright::program
