#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/command.hpp"
#include "bench/program/register/public_keys.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/verifier.hpp"
#include "bench/program/run/records_meant.hpp"
#include "bench/program/sentence.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

namespace {

struct VerifyOptions {
    std::vector<std::filesystem::path> files;  // or folders; "-": a seal's text on standard input
    std::filesystem::path work = "work";       // a serial stands for its newest runs there
    std::filesystem::path keys;                // public keys; empty: the user's own
    bool keys_named = false;                   // on the command line: then everything must be sealed
    std::string location;                      // of a register to check too; empty: none
};

const char* shown(Judgement judgement) {
    switch (judgement) {
        case Judgement::ok:
            return "ok";
        case Judgement::wrong:
            return "WRONG";
        case Judgement::replaced:
            return "VOID";
        case Judgement::none:
            break;
    }
    return "cannot judge";
}

ExitCode verify(const CommonOptions& common, const VerifyOptions& options) {
    if (options.files.empty() && options.location.empty())
        return fail(common,
                    {FaultCode::usage, "nothing is given to check", "verify", "name files, or --register"});
    const auto keys = find_public_keys(options.keys);
    if (!keys) return fail(common, keys.fault());
    const auto now = desk_time();
    if (!now) return fail(common, now.fault());
    Verifier verifier(common, *keys ? &**keys : nullptr, options.keys_named, today(*now));
    for (const auto& file : runs_meant(options.files, options.work)) {
        if (auto taken = verifier.take(file); !taken) return fail(common, taken.fault());
    }
    if (auto done = verifier.compare(); !done) return fail(common, done.fault());
    if (!options.location.empty())
        if (auto done = verifier.take_register(options.location); !done) return fail(common, done.fault());
    verifier.tell_void();
    const auto& findings = verifier.findings();
    const Proof proof = verifier.proof();
    const ExitCode code = proof.wrong > 0 || !proof.voids.empty() ? ExitCode::disagrees
                          : proof.not_judged > 0                  ? ExitCode::not_judged
                                                                  : ExitCode::done;
    // Where something is wrong or void nothing is claimed of the rest: whoever reads one key is not misled.
    nlohmann::ordered_json document = {
        {"ok", code == ExitCode::done},
        {"summary", closing_sentence(proof)},
        {"proved", code == ExitCode::disagrees ? std::vector<std::string>() : proved(proof)},
        {"not_proved", not_proved(proof)},
        {"void", proof.voids},
        {"findings", nlohmann::ordered_json::array()}};
    for (const auto& finding : findings) {
        nlohmann::ordered_json row = {{"file", finding.file}, {"ok", finding.judgement == Judgement::ok}};
        if (finding.judgement == Judgement::none) row["judged"] = false;
        if (finding.judgement == Judgement::replaced) row["void"] = true;
        row["text"] = finding.text;
        document["findings"].push_back(std::move(row));
        if (!common.json)
            print_to(stdout, "%-6s %s: %s\n", shown(finding.judgement), finding.file, finding.text);
    }
    if (common.json)
        print_json(document);
    else
        print_sentence(stdout, closing_sentence(proof));
    return code;
}

}  // namespace

void add_verify(CommandLine& line) {
    const auto options = std::make_shared<VerifyOptions>();
    auto command = line.app.add_subcommand(
        "verify", "Check journals, records, certificates, seals and packs, and that they agree");
    command
        .add_option("files", options->files,
                    "Files, packs and folders to check together; for a serial, its newest runs in the work "
                    "folder; - reads the text of a QR code")
        .type_name("FILE|SERIAL");
    add_work_folder(command, options->work);
    auto keys = command
                    .add_option("--public-keys", options->keys,
                                "Public keys of the laboratory; with it everything must bear the "
                                "laboratory's seal (default: those in TIPWRIGHT_KEYS, or your own)")
                    .type_name("FILE");
    command
        .add_option("--register", options->location,
                    "Register to check with the public keys alone; certificate files must be those it holds")
        .type_name("PLACE");
    command.on_chosen([&line, options, keys] {
        options->keys_named = keys.given();
        line.chosen = [&line, options] { return verify(line.common, *options); };
    });
}

}  // namespace tipwright::program
