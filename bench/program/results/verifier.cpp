#include "bench/program/results/verifier.hpp"

#include <algorithm>
#include <map>

#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/results/table_check.hpp"
#include "bench/program/version.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

Verifier::Verifier(const CommonOptions& common, const seal::PublicKeys* keys, bool must,
                   const std::string& today)
    : common_(common),
      keys_(keys),
      must_(must),
      seals_(keys, must, today,
             [this](const std::string& file, bool ok, const std::string& text) { add(file, ok, text); }) {}

Outcome Verifier::take_register(const std::string& place) {
    std::vector<IssuedFile> files;
    const auto add_file = [&](const IssuedFile& one) {
        if (std::none_of(files.begin(), files.end(), [&](const IssuedFile& other) {
                return other.file == one.file && other.sha256 == one.sha256;
            }))
            files.push_back(one);
    };
    for (const SameNumber::Document& document : seals_.numbers().documents())
        add_file({document.name, document.number, document.sha256, document.is_seal});
    for (const Checked& checked : checked_)
        if (checked.kind != FileKind::journal && checked.record->number != "DRAFT")
            add_file({checked.file, checked.record->number, checked.file_sha256, false});
    auto checked = check_register(
        place, keys_, files,
        [this](const std::string& file, bool ok, const std::string& text) { add(file, ok, text); });
    if (!checked) return checked.fault();
    register_ = std::move(*checked);
    return Done{};
}

Outcome Verifier::compare() {
    if (auto taken = take_sealed_together(); !taken) return taken;
    for (const auto& a : checked_) {
        for (const auto& b : checked_) {
            if (a.kind == FileKind::record && b.kind == FileKind::certificate) {
                // Certificates of several gauges may be given together.
                if (a.record->number != b.record->number) continue;
                const bool same = a.record_text == b.record_text || a.record_text == b.as_found_text;
                // A draft's number tells it from no other.
                if (!same && a.record->number == "DRAFT" &&
                    a.record->source_sha256 != b.record->source_sha256)
                    continue;
                add(b.file, same,
                    same ? "carries exactly the record " + a.file : "carries another record than " + a.file);
            }
        }
    }
    if (Outcome compared = compare_tables(); !compared) return compared;
    if (auto done = seals_.finish(); !done) return done;
    compare_with_journals();
    judge_otherwise();
    judge_others();
    tell_unjudged();
    return Done{};
}

// After the seals: what one of them vouches for may say more than the journal.
void Verifier::compare_with_journals() {
    // Runs may be given together: what was made from one of their journals is held to that one.
    const auto has_its_journal = [&](const Checked& made) {
        return std::any_of(checked_.begin(), checked_.end(), [&](const Checked& one) {
            return one.kind == FileKind::journal && one.sha256 == made.record->source_sha256;
        });
    };
    for (const auto& a : checked_)
        for (auto& b : checked_)
            if (a.kind == FileKind::journal && b.kind != FileKind::journal &&
                (a.sha256 == b.record->source_sha256 || !has_its_journal(b)))
                compare_with_journal(a, b);
}

void Verifier::tell_void() {
    std::map<std::string, std::string> files;  // of each number the first
    for (const SameNumber::Document& document : seals_.numbers().documents())
        files.emplace(document.number, document.name);
    std::map<std::string, std::string> replaced = register_.replaced;
    std::map<std::string, std::vector<std::string>> amended = register_.amended;
    for (const SameNumber::Supersedes& by : seals_.numbers().supersedes()) {
        if (!by.earlier.amended) {
            replaced.emplace(by.earlier.number, by.number);
            continue;
        }
        auto& known = amended[by.earlier.number];
        if (std::find(known.begin(), known.end(), by.number) == known.end()) known.push_back(by.number);
    }
    for (const auto& [number, file] : files) {
        if (const auto by = replaced.find(number); by != replaced.end()) {
            findings_.push_back({file, Judgement::replaced,
                                 "certificate " + number + " is void: the laboratory replaced it by " +
                                     by->second + "; it is genuine, and no longer valid"});
            voids_.push_back("certificate " + number + ", replaced by " + by->second);
            continue;
        }
        const auto by = amended.find(number);
        if (by == amended.end()) continue;
        const std::string amended_by = "certificate " + number + " is amended by ";
        const std::string listed_by = number + " by ";
        for (const std::string& other : by->second) {
            add(file, true, amended_by + other + ": read it with that one");
            if (!files.contains(other)) amended_.push_back(listed_by + other);
        }
    }
}

Proof Verifier::proof() const {
    Proof out;
    out.register_proved = register_.proved;
    out.register_open = register_.open;
    out.findings = findings_.size();
    for (const Finding& finding : findings_) {
        out.wrong += finding.judgement == Judgement::wrong ? 1U : 0U;
        out.not_judged += finding.judgement == Judgement::none ? 1U : 0U;
    }
    out.sealed = seals_.proven();
    out.in_packs = seals_.proven_in_packs();
    for (auto* seals : {&out.sealed, &out.in_packs})
        for (auto& seal : *seals) {
            const bool held = register_.holds.contains(seal.name) && !register_.sealed_on.empty();
            out.may_be_replaced = out.may_be_replaced || (!held && seal.number != report::pack::list_number);
            // The laboratory sealed, with a key that nobody else had, a register that holds it.
            if (held && register_.sealed_on >= seal.revoked_from) seal.revoked_from.clear();
        }
    out.unsealed_lists = unsealed_lists_;
    out.voids = voids_;
    out.amended = amended_;
    out.not_in_journal = not_in_journal_;
    out.keys_given = keys_ != nullptr;
    out.packs = packs_;
    out.not_tied = seals_.numbers().not_tied(register_.holds);
    for (const Checked& checked : checked_) {
        if (checked.record) {
            out.invented = out.invented || checked.record->invented;
            out.virtual_bench = out.virtual_bench || checked.record->origin == report::Origin::virtual_bench;
        }
        if (checked.kind == FileKind::journal) {
            ++out.journals;
            continue;
        }
        out.records += checked.recomputed ? 1U : 0U;
        out.otherwise = out.otherwise || !checked.recomputed;
        if (checked.record && checked.record->number == "DRAFT") ++out.without_seal;
        if (checked.kind == FileKind::certificate && !seals_.bears_seal(checked.file)) ++out.unsealed_pages;
        if (checked.from_journal) {
            ++out.from_journal;
        } else {
            ++out.without_journal;
            out.supplied =
                out.supplied || (checked.record && checked.record->origin == report::Origin::supplied_data);
        }
    }
    return out;
}

void Verifier::add(const std::string& file, bool ok, const std::string& text) {
    findings_.push_back({file, ok ? Judgement::ok : Judgement::wrong, text});
}

void Verifier::cannot_judge(const std::string& file, const std::string& text) {
    findings_.push_back({file, must_ ? Judgement::wrong : Judgement::none,
                         must_ ? "bears no seal of the laboratory; " + text : text});
}

void Verifier::judge_others() {
    for (const auto& [name, bytes] : others_) {
        const std::string lines = bytes.ends_with('\n') ? bytes : bytes + "\n";
        const auto given = std::find_if(given_.begin(), given_.end(),
                                        [&](const GivenText& one) { return one.text == lines; });
        if (given != given_.end() && !must_)
            add(name, true, "is the " + given->what + " that the journal " + given->journal + " was given");
        else
            cannot_judge(
                name, "not a file that the program writes, or one without a seal: nothing can be said of it");
    }
}

Outcome Verifier::compare_tables() {
    if (tables_.empty() && seals_.numbers().texts().empty()) return Done{};
    if (Outcome known = know_words(); !known) return known;
    tie_texts(languages_);
    for (const auto& [name, bytes] : tables_) compare_table(name, bytes, languages_);
    return Done{};
}

// A table or a page may speak any of the languages; their words are read when one is met.
Outcome Verifier::know_words() {
    if (!languages_.empty()) return Done{};
    for (const char* language : {"en", "de", "fr", "es"}) {
        auto words = certificate_words(common_, language);
        if (!words) return words.fault();
        languages_.push_back(std::move(*words));
    }
    seals_.know_words(earlier_phrases(languages_));
    return Done{};
}

void Verifier::tie_texts(const std::vector<report::certificate::Words>& languages) {
    const std::vector<SameNumber::Text> texts = seals_.numbers().texts();
    for (const SameNumber::Text& text : texts) tie_text(text, languages);
}

void Verifier::tie_text(const SameNumber::Text& text,
                        const std::vector<report::certificate::Words>& languages) {
    bool differs = false;
    // Whether it is the one to be tied to, or none can tell.
    const auto follows = [&](const std::string& name, const report::Record& record) {
        if (record.number != text.number) return false;
        TableMatch match = match_table(record, text.bytes, languages);
        if ((match == TableMatch::differs || match == TableMatch::only_numbers) &&
            rows_follow(record, text.bytes, languages.front()))
            match = TableMatch::follows;
        if (match == TableMatch::no_such_table) match = match_formula(record, text.bytes, languages);
        differs = differs || match == TableMatch::differs;
        if (match != TableMatch::follows) return false;
        seals_.belongs(text.name);
        if (!text.in_pack) add(text.name, true, "follows from " + name);
        return true;
    };
    for (const Checked& checked : checked_)
        if (checked.record && follows(checked.file, *checked.record)) return;
    for (const SameNumber::Carried& carried : seals_.numbers().carried())
        if (follows(carried.name, carried.record)) return;
    if (differs)
        add(text.name, false,
            "does not follow from the record of certificate " + text.number +
                " given with it: it was changed, or is of another certificate of that number");
}

void Verifier::compare_table(const std::string& name, const std::string& bytes,
                             const std::vector<report::certificate::Words>& languages) {
    const auto& texts = seals_.numbers().texts();
    if (std::any_of(texts.begin(), texts.end(),
                    [&](const SameNumber::Text& text) { return text.name == name; }))
        return;
    const std::string body = without_seal_line(bytes);
    bool any = false;
    for (const Checked& checked : checked_) {
        if (!checked.record) continue;
        const TableMatch match = match_table(*checked.record, body, languages);
        any = any || match != TableMatch::no_such_table;
        if (match == TableMatch::only_numbers) {
            cannot_judge(name, "its numbers follow from " + checked.file +
                                   "; the sentences at its head are those of version " +
                                   checked.record->program_version + ", which this one, " + version() +
                                   ", does not have");
            return;
        }
        if (match != TableMatch::follows) continue;
        add(name, true, "follows from " + checked.file);
        return;
    }
    // A seal that is not whole has been told.
    const bool told = std::any_of(findings_.begin(), findings_.end(),
                                  [&](const Finding& finding) { return finding.file == name; });
    if (any)
        add(name, false,
            "does not follow from any record given with it: it was changed, or belongs to another");
    else if (!told)
        cannot_judge(name, "cannot be judged by itself: give the record it was made from with it");
}

void Verifier::judge_otherwise() {
    for (const std::size_t i : otherwise_) {
        Finding& finding = findings_[i];
        const bool ok = seals_.vouches_for(finding.file);
        finding.judgement = ok ? Judgement::ok : Judgement::wrong;
        finding.text += ok ? "; the laboratory's seal vouches for what it says"
                           : "; no seal vouches for what it says, so it may have been edited";
    }
}

void Verifier::tell_unjudged() {
    for (const std::string& name : taken_)
        if (std::none_of(findings_.begin(), findings_.end(), [&](const Finding& finding) {
                return finding.file == name || finding.file.starts_with(name + "/");
            }))
            cannot_judge(
                name, "cannot be judged: it bears no seal, and nothing given with it tells what it must be");
}

void Verifier::note_otherwise(const report::RecordAgreement& agreement) {
    if (agreement.agreement == report::Agreement::otherwise_by_version)
        otherwise_.push_back(findings_.size());
}

namespace {

// Somebody compared the limits with their source after the measurement: the issued record names who.
void take_confirmation_of_limits(const report::Record& issued, report::Record& again) {
    const calib::Limits& judged_by = issued.plan.limits;
    calib::Limits& measured_by = again.plan.limits;
    if (measured_by.confirmed || !judged_by.confirmed ||
        !judged_by.source.starts_with(measured_by.source + "; "))
        return;
    for (calib::Limits* limits : {&measured_by, &again.evaluation.conformity.limits}) {
        limits->confirmed = true;
        limits->source = judged_by.source;
    }
    report::state(again);
}

}  // namespace

void Verifier::compare_with_journal(const Checked& journal, Checked& other) {
    if (other.record->source_sha256 != journal.sha256) {
        add(other.file, false, "was not made from the journal " + journal.file);
        return;
    }
    // Number and issue are given after the measurement, and a seal stands for what they say; all else is a
    // function of the journal. Those of 1.0 do not say the state, and a file may get another name.
    report::Record again = *journal.record;
    again.number = other.record->number;
    const bool vouched = seals_.vouches_for(other.file);
    const auto take = [&](auto report::Record::*field, const char* what) {
        if (again.*field == (*other.record).*field) return;
        again.*field = (*other.record).*field;
        if (!vouched) not_in_journal_.push_back(std::string(what) + " of " + other.file);
    };
    if (!journal.says_state) take(&report::Record::state, "the state (as found or as left)");
    take(&report::Record::source_name, "the name of the source");
    if (vouched) {
        again.issued_on = other.record->issued_on;
        again.authorised_by = other.record->authorised_by;
        again.acceptance = other.record->acceptance;
        take_confirmation_of_limits(*other.record, again);
    }
    const auto same = record_agreement(other.record_text, again);
    other.from_journal = other.from_journal || holds(same);
    note_otherwise(same);
    add(other.file, same.agreement != report::Agreement::beyond_rounding,
        agreement_words(same, other.record->program_version,
                        "equals what the journal " + journal.file + " gives",
                        "differs from what the journal " + journal.file + " gives" +
                            (vouched ? "" : ", and no seal stands for that")));
}

}  // namespace tipwright::program
