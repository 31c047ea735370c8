#include "bench/program/page/register_desk_class.hpp"

#include <algorithm>

#include "bench/journal/file_name.hpp"
#include "bench/journal/holder.hpp"
#include "bench/page/views/machine.hpp"
#include "bench/program/page/came_out.hpp"
#include "bench/program/page/run_ahead.hpp"
#include "bench/program/register/certificates.hpp"
#include "bench/program/run/work_folder.hpp"
#include "report/pack/zip.hpp"
#include "report/register/life_words.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;
using report::Id;

constexpr std::size_t most_check_runs = 100000;

std::string type_of(const std::string& name) {
    const std::string ending = fs::path(name).extension().string();
    if (ending == ".pdf") return "application/pdf";
    if (ending == ".json") return "application/json";
    if (ending == ".xml") return "application/xml";
    if (ending == ".csv") return "text/csv; charset=utf-8";
    return "text/plain; charset=utf-8";
}

}  // namespace

Result<report::Table> RegisterDesk::open_work() {
    return with_register([](report::Register& reg) { return reg.open_work(); });
}

Result<report::Table> RegisterDesk::certificates(const page::CertificateWanted& wanted) {
    return with_register([&](report::Register& reg) { return reg.list_certificates(filter_of(wanted)); });
}

Result<report::Certificate> RegisterDesk::certificate(Id id) {
    return with_register([&](report::Register& reg) { return reg.certificate(id); });
}

Result<report::Certificate> RegisterDesk::certificate(const std::string& number) {
    return with_register([&](report::Register& reg) { return reg.certificate(number); });
}

Result<page::CertificateCameOut> RegisterDesk::came_out(const report::Certificate& certificate) {
    return with_register([&](report::Register& reg) -> Result<page::CertificateCameOut> {
        page::CertificateCameOut out;
        for (const auto& [id, run] :
             {std::pair{certificate.as_found, &out.as_found}, {certificate.as_left, &out.as_left}}) {
            if (id == 0) continue;
            const auto record = reg.record(id);
            if (!record) return record.fault();
            *run = came_out_of(*record);
        }
        return out;
    });
}

Result<Id> RegisterDesk::draft(const report::Actor& actor, const std::string& serial,
                               const std::string& reason) {
    if (auto good = check_serial(serial); !good) return good.fault();
    // What is measured now belongs on it.
    for (const KeptRun& run : kept_runs(options_.work, serial))
        if (!run.measured && bench::is_held(run.folder / bench::journal_name))
            return Fault{FaultCode::not_permitted, "a run of this gauge is going on", serial,
                         "wait until it has ended, or stop it"};
    return with_register([&](report::Register& reg) {
        return draft_of_newest_runs(options_.common, reg, now_of(actor), serial, options_.work,
                                    options_.bench_code, reason);
    });
}

Result<std::optional<page::CheckGaugeSeen>> RegisterDesk::check_gauge() {
    if (options_.check_gauge.empty()) return std::optional<page::CheckGaugeSeen>{};
    return with_register([&](report::Register& reg) -> Result<std::optional<page::CheckGaugeSeen>> {
        const auto now = desk_time();
        if (!now) return now.fault();
        report::ListFilter filter;
        filter.serial = options_.check_gauge;
        filter.limit = most_check_runs;
        const auto runs = reg.list_certificates(filter);
        if (!runs) return runs.fault();
        std::string known = program::today(*now) + page::register_json("runs", *runs);
        // What was done about an alarm is a finding of its life.
        if (const auto life = reg.life(options_.check_gauge))
            known += page::register_json("life", report::life_table(*life));
        if (known != check_gauge_known_) {
            const auto state = control_state(reg, options_.check_gauge, *now);
            if (!state) return state.fault();
            check_gauge_ = *state;
            check_gauge_known_ = std::move(known);
        }
        return std::optional<page::CheckGaugeSeen>(page::CheckGaugeSeen{
            options_.check_gauge, name_of(check_gauge_.standing), check_gauge_.on, check_gauge_.why});
    });
}

Result<page::FileGiven> RegisterDesk::look_of_draft(Id id) {
    return with_register([&](report::Register& reg) -> Result<page::FileGiven> {
        auto pdf = drawing_of_draft(options_.common, reg, id, options_.layout);
        if (!pdf) return pdf.fault();
        return page::FileGiven{"draft-" + std::to_string(id) + ".pdf", "application/pdf", std::move(*pdf)};
    });
}

Outcome RegisterDesk::check(const report::Actor& actor, Id id) {
    return with_register([&](report::Register& reg) { return reg.mark_checked(now_of(actor), id); });
}

Outcome RegisterDesk::send_back(const report::Actor& actor, Id id, const std::string& why) {
    return with_register([&](report::Register& reg) { return reg.send_back(now_of(actor), id, why); });
}

Outcome RegisterDesk::discard(const report::Actor& actor, Id id, const std::string& why) {
    return with_register([&](report::Register& reg) { return reg.discard(now_of(actor), id, why); });
}

Result<page::IssuedHere> RegisterDesk::issue(const report::Actor& actor, Id id,
                                             const seal::Passphrase& seal_passphrase,
                                             const std::string& reason) {
    return with_register([&](report::Register& reg) -> Result<page::IssuedHere> {
        page::IssuedHere out;
        Sealing sealing{options_.keys,        options_.bench_code,
                        options_.layout,      reason,
                        options_.check_gauge, [&](const std::string& text) { out.warnings.push_back(text); }};
        const auto issued = issue_one(options_.common, reg, now_of(actor), id, seal_passphrase, sealing);
        if (!issued) return issued.fault();
        out.number = issued->number;
        return out;
    });
}

Result<Id> RegisterDesk::replace(const report::Actor& actor, const std::string& number,
                                 const std::string& reason) {
    return with_register([&](report::Register& reg) {
        return draft_replacement(options_.common, reg, now_of(actor), number, reason, options_.bench_code);
    });
}

Result<page::FileGiven> RegisterDesk::pack(const std::string& number) {
    return with_register([&](report::Register& reg) -> Result<page::FileGiven> {
        const auto files = report::pack::make(reg, {number});
        if (!files) return files.fault();
        return page::FileGiven{number + "-pack.zip", "application/zip", report::pack::zip(*files)};
    });
}

Result<std::vector<std::string>> RegisterDesk::files(const std::string& number) {
    const auto given = files_of(number);
    if (!given) return given.fault();
    std::vector<std::string> out;
    for (const auto& file : *given) out.push_back(fs::path(file.path).filename().string());
    return out;
}

Result<page::FileGiven> RegisterDesk::file(const std::string& number, const std::string& name) {
    auto given = files_of(number);
    if (!given) return given.fault();
    const auto found = std::find_if(given->begin(), given->end(), [&](const report::pack::File& file) {
        return fs::path(file.path).filename() == name;
    });
    if (found != given->end())
        return page::FileGiven{number + "-" + name, type_of(name), std::move(found->bytes)};
    return Fault{FaultCode::unknown_field, "there is no such file", name, ""};
}

Result<std::vector<report::pack::File>> RegisterDesk::files_of(const std::string& number) {
    return with_register([&](report::Register& reg) { return report::pack::certificate_files(reg, number); });
}

}  // namespace tipwright::program
