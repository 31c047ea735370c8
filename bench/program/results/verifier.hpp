// Checks files of every kind that the program writes, each by itself and against the others given with it:
// what was found, and what is proved by it. Nothing that could not be judged passes in silence.
#pragma once

#include <filesystem>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "bench/program/common_options.hpp"
#include "bench/program/register/seal_check.hpp"
#include "bench/program/results/file_kind.hpp"
#include "bench/program/results/proof.hpp"
#include "bench/program/results/register_check.hpp"
#include "report/certificate/words.hpp"
#include "report/pack/pack.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

// What no check has anything to say about is not in order, and not wrong for that. A certificate that was
// replaced is genuine, and void.
enum class Judgement { ok, wrong, replaced, none };

struct Finding {
    std::string file;
    Judgement judgement = Judgement::ok;
    std::string text;
};

// A gauge, plan or bench as a journal was given it.
struct GivenText {
    std::string journal;
    std::string what;  // "gauge", "gauge kind", "plan", "bench"
    std::string text;
};

// What one file was found to hold.
struct Checked {
    std::string file;
    FileKind kind = FileKind::other;
    std::string sha256;                    // of the record's text, or of the journal
    std::string file_sha256;               // of a record or certificate as it was given
    std::optional<report::Record> record;  // as stored, or as computed from a journal
    std::string record_text;               // canonical
    std::string as_found_text;             // of a certificate that shows both states
    bool says_state = false;               // a journal: as found or as left
    bool recomputed = false;               // its results follow from its observations
    bool from_journal = false;             // equals what a journal given gives
};

class Verifier {
public:
    // `today`: ISO date.
    Verifier(const CommonOptions& common, const seal::PublicKeys* keys, bool must, const std::string& today);
    Outcome take(const std::filesystem::path& file);
    // A register, by the public keys alone; each file of a certificate given must be one that it holds.
    Outcome take_register(const std::string& place);
    // Every pair that should agree.
    Outcome compare();
    // After the register was taken, where there is one: what was replaced since is void.
    void tell_void();
    Proof proof() const;
    const std::vector<Finding>& findings() const { return findings_; }

private:
    void add(const std::string& file, bool ok, const std::string& text);
    // Where the laboratory's seal is asked for on everything, this too is wrong.
    void cannot_judge(const std::string& file, const std::string& text);
    // A file that is not one of the program's, unless a journal given was begun with its words.
    void judge_others();
    Outcome take_journal(const std::filesystem::path& file, Checked& checked);
    Outcome take_record(const std::filesystem::path& file, Checked& checked);
    Outcome take_standard_input();
    Outcome take_seal(const std::filesystem::path& file);
    // After all that was named.
    Outcome take_sealed_together();
    // A table: its own seal if it has one, and the record it must follow from.
    Outcome take_table(const std::filesystem::path& file);
    Outcome compare_tables();
    // Sealed texts held against the records of their number.
    void tie_texts(const std::vector<report::certificate::Words>& languages);
    void tie_text(const SameNumber::Text& text, const std::vector<report::certificate::Words>& languages);
    void compare_table(const std::string& name, const std::string& bytes,
                       const std::vector<report::certificate::Words>& languages);
    // Whoever edits results can name another version too: only what a seal vouches for may differ so.
    void judge_otherwise();
    // What no check had anything to say about was not judged, and that is not in order.
    void tell_unjudged();
    // XML, or a text whose last line is its seal.
    Outcome take_sealed(const std::filesystem::path& file);
    Outcome take_zip(const std::filesystem::path& file);
    Outcome take_folder(const std::filesystem::path& folder);
    Outcome take_pack(const std::filesystem::path& pack, const std::vector<report::pack::File>& files);
    Outcome take_certificate(const std::filesystem::path& file, Checked& checked);
    void add_record(const std::string& text, Checked& checked);
    // The finding that is added next rests on another version of the program.
    void note_otherwise(const report::RecordAgreement& agreement);
    // What stands with reservation, and who accepted it.
    static std::string reserved(const report::Record& record);
    void compare_with_journal(const Checked& journal, Checked& other);
    void compare_with_journals();
    Outcome know_words();

    const CommonOptions& common_;
    const seal::PublicKeys* keys_;
    bool must_;
    std::vector<Checked> checked_;
    std::vector<std::string> taken_;
    std::set<std::filesystem::path> record_folders_;
    std::size_t packs_ = 0;           // whole
    std::size_t unsealed_lists_ = 0;  // of those
    std::vector<report::certificate::Words> languages_;
    std::vector<std::string> voids_;
    std::vector<std::string> amended_;
    std::vector<std::string> not_in_journal_;
    std::vector<std::pair<std::string, std::string>> tables_;  // name, bytes
    std::vector<GivenText> given_;
    std::vector<std::pair<std::string, std::string>> others_;  // name, bytes
    std::vector<Finding> findings_;
    std::vector<std::size_t> otherwise_;  // places in findings_
    RegisterProof register_;
    SealCheck seals_;
};

}  // namespace tipwright::program
