#include "report/register/register.hpp"

#include "report/register/before_migration.hpp"
#include "report/register/dates.hpp"
#include "report/register/detail.hpp"
#include "report/register/impl.hpp"
#include "report/register/migrations.hpp"

namespace tipwright::report {

Register::Register(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Register::~Register() = default;
Register::Register(Register&&) noexcept = default;
Register& Register::operator=(Register&&) noexcept = default;

namespace {

// A database that can be opened may still be one cut short: its log must end where its head says.
void must_end_at_its_head(Register::Impl& impl) {
    Database& database = *impl.database;
    must(snapshot(impl, [&] {
        const AuditHead head = read_audit_head(database);
        const std::optional<Row> last =
            database.row("SELECT seq, hash FROM audit ORDER BY seq DESC LIMIT 1", "it");
        if (head.seq != (last ? last->integer(0) : 0) || (last && last->text(1) != head.hash))
            stop(FaultCode::damaged, "the audit log does not end where its head says", database.where(),
                 "restore the last backup");
        return Done{};
    }));
}

std::unique_ptr<Register::Impl> opened(const std::string& location, const std::string& now,
                                       Register::Impl::How how) {
    if (!is_utc_time(now)) stop(FaultCode::bad_value, in_quotes(now) + " is not a UTC time", "now");
    std::unique_ptr<Register::Impl> impl = Register::Impl::open(location, how);
    Database& database = *impl->database;
    if (schema_version(database) == 0 && how != Register::Impl::How::create)
        stop(FaultCode::file_missing, "there is no register", database.where(), "make one first");
    bring_up_to_date(database, location, migrations(), now);
    must_end_at_its_head(*impl);
    return impl;
}

}  // namespace

Result<Register> Register::open(const std::string& location, const std::string& now, bool create) {
    return answered(
        [&] { return Register(opened(location, now, create ? Impl::How::create : Impl::How::write)); });
}

Result<Register> Register::open_to_read(const std::string& location, const std::string& now) {
    return answered([&] { return Register(opened(location, now, Impl::How::read)); });
}

Outcome Register::accept_clock(const Actor& actor, const std::string& why) {
    return answered([&] {
        if (why.empty()) stop(FaultCode::missing_field, "accepting an earlier time needs a reason", "why");
        check_text("why", why);
        // The one write that may be earlier than the last: made at the last one's time, it then sets the head
        // back.
        const std::string ahead = read_audit_head(*impl_->database).at;
        Actor late = actor;
        if (late.now < ahead) late.now = ahead;
        Writer writer(*impl_, late, Permission::issue);
        writer.log("accept clock", "register", 0, Detail().text("now", actor.now).text("why", why).json());
        writer.database.run("UPDATE audit_head SET at = :p1 WHERE one = 1", {actor.now});
        writer.commit();
        return Done{};
    });
}

}  // namespace tipwright::report
