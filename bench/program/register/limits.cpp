// tipwright limits: that somebody compared the numbers of limits with the current edition of their source.
#include "bench/descriptions/descriptions.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/in_session.hpp"
#include "bench/program/register/session_options.hpp"

namespace tipwright::program {

namespace {

struct LimitsOptions {
    Session session;
    std::string file;
    std::string edition;
    std::string by;
};

ExitCode confirm(const CommonOptions& common, const LimitsOptions& options) {
    const auto limits = bench::load_limits(options.file, common.templates);
    if (!limits) return fail(common, limits.fault());
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        if (const Outcome done = reg.confirm_limits(actor, *limits, options.edition, options.by); !done)
            return refuse(common, done.fault());
        return say(common,
                   "Noted: " + options.by + " compared the limits " + limits->name + " with " +
                       options.edition + ". Verdicts by these very numbers are final from now on.",
                   {{"limits", limits->name}, {"edition", options.edition}, {"by", options.by}});
    });
}

}  // namespace

void add_limits_group(CommandLine& line) {
    const auto group = add_group(line.app, "limits", "Record who compared limits with their source");
    auto verb = add_verb<LimitsOptions>(
        line, group, "confirm", "Record that limits were compared with the current edition of their source",
        confirm);
    add_session(verb.command, verb->session);
    verb.command.add_option("limits", verb->file, "Limits file, or its name in the templates")
        .required()
        .type_name("FILE");
    verb.command
        .add_option("--edition", verb->edition, "Edition they were compared with, for example EN 17277:2019")
        .required()
        .type_name("TEXT");
    verb.command.add_option("--by", verb->by, "Who compared them").required().type_name("NAME");
}

}  // namespace tipwright::program
