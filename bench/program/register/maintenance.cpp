#include "bench/program/register/maintenance.hpp"

#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/register/in_session.hpp"
#include "bench/program/register/keys.hpp"
#include "bench/program/register/public_keys.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

ExitCode create_register(const CommonOptions& common, const KeepingOptions& options) {
    const auto actor = actor_of(options.session);
    if (!actor) return refuse(common, actor.fault());
    auto reg = open_register(options.session, true);
    if (!reg) return refuse(common, reg.fault());
    const auto people = reg->people();
    if (!people) return refuse(common, people.fault());
    if (!people->empty())
        return refuse(common,
                      {FaultCode::duplicate, "there is a register already", "register", "use it as it is"});
    const auto id = reg->put_person(*actor, {0, actor->person, true, true, true, true});
    if (!id) return refuse(common, id.fault());
    return say(common, "Made the register; " + actor->person + " may measure, check and issue.",
               {{"person", *id}});
}

ExitCode check_register(const CommonOptions& common, const KeepingOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto keys = find_public_keys(options.keys);
    if (!keys) return refuse(common, keys.fault());
    const auto report = reg->inspect(*keys ? &**keys : nullptr);
    if (!report) return refuse(common, report.fault());
    const bool whole = report->faults.empty();
    if (common.json) {
        nlohmann::ordered_json document = {{"ok", whole},
                                           {"audit_entries", report->audit_entries},
                                           {"audit_head", report->audit_head},
                                           {"certificates", report->certificates},
                                           {"documents", report->documents},
                                           {"documents_named_by_nothing", report->stray_documents},
                                           {"seals_checked", keys->has_value()},
                                           {"faults", nlohmann::ordered_json::array()}};
        for (const Fault& fault : report->faults)
            document["faults"].push_back({{"code", name_of(fault.code)}, {"line", fault.line()}});
        print_json(document);
        return whole ? ExitCode::done : ExitCode::disagrees;
    }
    for (const Fault& fault : report->faults) print_to(stdout, "WRONG  %s\n", fault.line().c_str());
    print_to(stdout, "%lld log entries, %lld certificates, %lld documents: %s.\n",
             static_cast<long long>(report->audit_entries), static_cast<long long>(report->certificates),
             static_cast<long long>(report->documents),
             whole ? "all as it should be" : "not as it should be");
    if (!*keys) print_to(stdout, "Seals were not checked: no public keys; give --public-keys.\n");
    if (report->stray_documents > 0)
        print_to(
            stdout,
            "%lld documents are named by nothing, left by a crash; 'tipwright register tidy' removes them.\n",
            static_cast<long long>(report->stray_documents));
    print_to(stdout, "Head of the log: %s\n", report->audit_head.c_str());
    return whole ? ExitCode::done : ExitCode::disagrees;
}

ExitCode backup_register(const CommonOptions& common, const KeepingOptions& options) {
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    if (const Outcome done = reg->backup(options.folder.string(), *now); !done)
        return refuse(common, done.fault());
    return say(common, "Backed up to " + options.folder.string() + ".",
               {{"folder", options.folder.string()}});
}

ExitCode restore_register(const CommonOptions& common, const KeepingOptions& options) {
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    const std::string location =
        options.session.location.empty() ? data_folder("register").string() : options.session.location;
    const Outcome done = report::Register::restore(options.folder.string(), location, *now);
    if (!done) return refuse(common, done.fault());
    return say(common, "Restored from " + options.folder.string() + "; everything in it was checked.",
               {{"folder", options.folder.string()}});
}

ExitCode tidy_register(const CommonOptions& common, const KeepingOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        if (const Outcome done = reg.tidy(actor); !done) return refuse(common, done.fault());
        return say(common, "Removed documents that nothing named.");
    });
}

ExitCode show_log(const CommonOptions& common, const KeepingOptions& options) {
    return table_of(common, options.session, {},
                    [&](report::Register& reg) { return reg.audit_log(options.last); });
}

ExitCode accept_clock(const CommonOptions& common, const KeepingOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        if (const Outcome done = reg.accept_clock(actor, options.why); !done)
            return refuse(common, done.fault());
        return say(common, "The register continues at " + actor.now + ".");
    });
}

}  // namespace tipwright::program
