#include "bench/program/results/record_source.hpp"

#include <algorithm>
#include <optional>

#include "bench/journal/file_name.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/results/evaluate_supplied.hpp"
#include "bench/program/results/read_record.hpp"
#include "report/record/record_json.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

bool is_plain_name(const std::string& name) {
    return !name.empty() && name.find('/') == std::string::npos && name != "." && name != "..";
}

Result<fs::path> source_of(const report::Record& given, const fs::path& file,
                           const std::vector<fs::path>& files) {
    const fs::path folder = file.parent_path();
    std::vector<fs::path> candidates = files;
    if (is_plain_name(given.source_name)) candidates.push_back(folder / given.source_name);
    candidates.push_back(folder / bench::journal_name);
    for (const fs::path& candidate : candidates) {
        std::error_code error;
        if (!fs::is_regular_file(candidate, error)) continue;
        const auto digest = seal::sha256_hex_of_file(candidate.string());
        if (!digest) return digest.fault();
        if (*digest == given.source_sha256) return candidate;
    }
    const bool table = given.origin == report::Origin::supplied_data;
    return Fault{FaultCode::not_permitted,
                 std::string("the ") + (table ? "table" : "journal") + " it was made from is not there (" +
                     visible(given.source_name) + ", SHA-256 " + visible(given.source_sha256.substr(0, 16)) +
                     "...)",
                 file.string(), "put it beside the record, or give it with --source"};
}

// A later version may name more of what was assumed. What is drafted is the record as it computes it now,
// which says all of it.
bool all_among(const std::vector<std::string>& some, const std::vector<std::string>& all) {
    return std::all_of(some.begin(), some.end(), [&](const std::string& one) {
        return std::find(all.begin(), all.end(), one) != all.end();
    });
}

}  // namespace

Result<report::Record> record_from_source(const CommonOptions& common, const report::Record& given,
                                          const fs::path& file, const RecordSources& sources) {
    const auto source = source_of(given, file, sources.files);
    if (!source) return source.fault();
    RecordOptions options;
    options.state = given.state;
    options.number = given.number;
    const bool table = given.origin == report::Origin::supplied_data;
    EvaluateOptions evaluation;
    evaluation.source = *source;
    if (table) evaluation.plan = sources.plan;
    auto again =
        table ? record_of_supplied(common, evaluation, options) : record_of_journal(*source, options);
    if (!again) return again.fault();
    report::Record same = *again;
    // A table does not say which version evaluated it; a journal says which one wrote it.
    if (table) same.program_version = given.program_version;
    same.source_name = given.source_name;
    if (given.program_version != again->program_version && all_among(given.deviations, again->deviations))
        same.deviations = given.deviations;
    const auto agreement = record_agreement(report::record_to_json(given), same);
    if (agreement.agreement == report::Agreement::otherwise_by_version)
        return Fault{FaultCode::not_permitted,
                     "made by version " + given.program_version +
                         ", and this version computes it otherwise (" + agreement.text() + ")",
                     file.string(), "evaluate the " + std::string(table ? "table" : "journal") + " again"};
    if (agreement.agreement == report::Agreement::beyond_rounding)
        return Fault{FaultCode::not_permitted,
                     "is not what " + source->string() + " gives: it was edited, or made otherwise (" +
                         agreement.text() + ")",
                     file.string(),
                     table ? "give the --plan it was evaluated with, or evaluate the table again"
                           : "evaluate the journal again and give that record"};
    again->source_name = given.source_name;
    return again;
}

}  // namespace tipwright::program
