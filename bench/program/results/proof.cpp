#include "bench/program/results/proof.hpp"

#include <algorithm>

#include "bench/program/version.hpp"
#include "calib/base/joined.hpp"
#include "report/pack/pack.hpp"

namespace tipwright::program {

namespace {

// Whoever has a key that was revoked can date back what he seals with it.
bool backdated(const SealCheck::Proven& seal) {
    return !seal.revoked_from.empty();
}

}  // namespace

bool holds(const report::RecordAgreement& agreement) {
    return agreement.agreement == report::Agreement::equal ||
           agreement.agreement == report::Agreement::within_rounding;
}

std::string agreement_words(const report::RecordAgreement& agreement, const std::string& made_by,
                            const std::string& agrees, const std::string& differs) {
    switch (agreement.agreement) {
        case report::Agreement::equal:
            return agrees + ", to the last bit";
        case report::Agreement::within_rounding:
            return agrees + ", but for rounding (" + agreement.text() + ")";
        case report::Agreement::otherwise_by_version:
            return "made by version " + made_by + "; this version, " + version() +
                   ", computes it otherwise (" + agreement.text() + ")";
        case report::Agreement::beyond_rounding:
            break;
    }
    return differs + ": beyond rounding (" + agreement.text() + ")";
}

std::vector<std::string> proved(const Proof& proof) {
    std::vector<std::string> out;
    std::set<std::string> told;
    for (const auto& seal : proof.sealed) {
        std::string text = "certificate " + seal.number + " sealed by key " + seal.key_id;
        if (seal.revoked_from.empty())
            text += seal.issued_on.empty() ? ", which is in use" : ", valid then (" + seal.issued_on + ")";
        if (told.insert(text).second) out.push_back(text);
    }
    if (!proof.register_proved.empty()) out.push_back(proof.register_proved);
    const bool dated = std::none_of(proof.in_packs.begin(), proof.in_packs.end(), backdated);
    if (proof.packs > 0)
        out.push_back(std::string(proof.unsealed_lists == 0 ? "pack whole, " : "of the pack ") +
                      "each file as the laboratory sealed it" + (dated ? ", with keys valid then" : ""));
    if (proof.records > 0) out.push_back("results recomputed from their observations");
    if (proof.journals > 0) out.push_back("journal whole");
    if (proof.from_journal > 0) out.push_back("results are what the journal gives");
    return out;
}

std::vector<std::string> not_proved(const Proof& proof) {
    std::vector<std::string> out;
    if (proof.packs > 0)
        out.push_back(
            "results in a pack were not recomputed: give the folders of its certificates, unpacked");
    if (proof.unsealed_lists > 0)
        out.push_back(
            "that no certificate is missing from the pack: its files agree with its list, but the list is "
            "not sealed");
    std::set<std::string> told;
    for (const auto* seals : {&proof.sealed, &proof.in_packs})
        for (const auto& seal : *seals) {
            if (!backdated(seal)) continue;
            const std::string text =
                (seal.number == report::pack::list_number ? std::string("that the list of the pack")
                                                          : "that certificate " + seal.number) +
                " was sealed on " + seal.issued_on + ": key " + seal.key_id + " is revoked from " +
                seal.revoked_from +
                ", and whoever else has it can backdate; a register that the laboratory sealed since and "
                "that holds this file would prove it";
            if (told.insert(text).second) out.push_back(text);
        }
    if (proof.may_be_replaced)
        out.push_back("that the laboratory has not replaced it since: its register tells");
    for (const std::string& one : proof.amended)
        out.push_back("all that the laboratory says of it: it is amended, certificate " + one +
                      ", which was not given");
    if (!proof.not_in_journal.empty())
        out.push_back("what neither the journal nor a seal says: " + joined(proof.not_in_journal, ", "));
    if (!proof.register_open.empty()) out.push_back(proof.register_open);
    if (proof.sealed.empty() && proof.packs == 0 && proof.register_proved.empty())
        out.push_back(proof.keys_given ? "nothing here bears a seal: who made it is not known"
                                       : "who made it: no seal was checked, no public keys were given");
    if (!proof.sealed.empty() && proof.without_seal > 0) out.push_back("some of it bears no seal");
    if (proof.unsealed_pages > 0)
        out.push_back("what the pages of an unsealed PDF show: only the record inside it was judged");
    out.insert(out.end(), proof.not_tied.begin(), proof.not_tied.end());
    if (!proof.sealed.empty() && proof.records == 0 && proof.packs == 0 && !proof.otherwise)
        out.push_back(
            "results were not recomputed, and no journal was given: give the certificate or its record");
    if (proof.otherwise)
        out.push_back(
            "results that another version of the program computed, and this one computes otherwise: the "
            "laboratory's seal alone stands for them");
    if (proof.without_journal > 0)
        out.push_back(proof.supplied
                          ? "observations as supplied by others; the source they came from was not given"
                          : "journal not given: that the observations were measured so");
    if (proof.journals > 0)
        out.push_back(proof.sealed.empty()
                          ? "a journal's checksums tell damage, not intent"
                          : "that nobody rewrote the journal before its results were sealed: a journal's "
                            "checksums tell damage, not intent");
    if (proof.virtual_bench)
        out.push_back("simulated on a virtual bench: no measurement");
    else if (proof.invented)
        out.push_back("invented data, of no validity");
    return out;
}

std::string closing_sentence(const Proof& proof) {
    if (proof.wrong > 0)
        return "Not in order: " + std::to_string(proof.wrong) + " of " + std::to_string(proof.findings) +
               " findings are WRONG; do not rely on these files." +
               (proof.voids.empty() ? "" : " Void: " + joined(proof.voids) + ".");
    const std::string good = joined(proved(proof));
    const std::string open = joined(not_proved(proof));
    const std::string out_of = std::to_string(proof.not_judged) + " of " + std::to_string(proof.findings);
    return (proof.voids.empty() ? "" : "Void, do not use: " + joined(proof.voids) + ". ") +
           (proof.not_judged > 0 ? "Not judged: " + out_of + " findings, said above. " : "") +
           "Proved: " + (good.empty() ? "nothing" : good) + "." +
           (open.empty() ? "" : " Not proved: " + open + ".");
}

}  // namespace tipwright::program
