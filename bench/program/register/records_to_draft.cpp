#include "bench/program/register/records_to_draft.hpp"

#include <map>
#include <utility>

#include "bench/program/results/read_record.hpp"

namespace tipwright::program {

using report::Id;
using report::Record;

namespace {

// Only a record that has no number yet becomes a certificate.
Outcome check_unnumbered(const Record& record, const std::string& where) {
    if (record.number != "DRAFT")
        return Fault{FaultCode::not_permitted, "the record has the number " + record.number + " already",
                     where, "amend or replace that certificate, or give the record as it was measured"};
    return Done{};
}

}  // namespace

void add_sources(Subcommand command, RecordSources& sources) {
    command
        .add_option("--source", sources.files,
                    "Journals or tables the records were made from (default: those beside each record)")
        .type_name("FILE");
    command.add_option("--plan", sources.plan, "Plan that supplied measurements were evaluated with")
        .type_name("FILE");
}

Outcome read_given(const CommonOptions& common, const std::vector<std::filesystem::path>& files,
                   const RecordSources& sources, std::vector<Record>& records,
                   std::vector<std::string>& names) {
    for (const auto& file : files) {
        auto record = read_record(file);
        if (!record) return record.fault();
        if (Outcome good = check_unnumbered(*record, file.string()); !good) return good;
        auto measured = record_from_source(common, *record, file, sources);
        if (!measured) return measured.fault();
        records.push_back(std::move(*measured));
        names.push_back(file.string());
    }
    return Done{};
}

void accept_reservations(std::vector<Record>& records, const report::Actor& actor,
                         const std::string& reason) {
    for (Record& record : records)
        if (!reason.empty() && record.statement.needs_acceptance())
            record.acceptance = report::Acceptance{reason, actor.person, actor.now.substr(0, 10)};
}

Result<std::vector<GaugeRecords>> by_gauge(const std::vector<Record>& records,
                                           const std::vector<std::string>& names) {
    std::map<std::pair<std::string, std::string>, std::size_t> places;
    std::vector<GaugeRecords> out;
    for (std::size_t i = 0; i < records.size(); ++i) {
        const auto [place, added] =
            places.emplace(std::pair{records[i].identity.serial, records[i].identity.model}, out.size());
        if (added) out.emplace_back();
        GaugeRecords& gauge = out[place->second];
        const bool found = records[i].state == report::State::as_found;
        const Record*& slot = found ? gauge.found : gauge.left;
        std::string& name = found ? gauge.found_name : gauge.left_name;
        if (slot != nullptr)
            return Fault{FaultCode::duplicate,
                         "a second " + std::string(found ? "as-found" : "as-left") + " record of gauge " +
                             in_quotes(records[i].identity.serial) + "; the first is " + name,
                         names[i], "give one of each state"};
        slot = &records[i];
        name = names[i];
    }
    return out;
}

Result<Id> enter(report::Register& reg, const report::Actor& actor, const Record* record,
                 const std::string& bench, const std::string& name) {
    if (record == nullptr) return Id{0};
    auto id = reg.enter_record(actor, *record, bench);
    if (!id) id.fault().where = name + (id.fault().where.empty() ? "" : ": " + id.fault().where);
    return id;
}

Result<Id> draft_one(report::Register& reg, const report::Actor& actor, const GaugeRecords& gauge,
                     const std::string& bench, report::Draft draft) {
    const Record& record = gauge.left != nullptr ? *gauge.left : *gauge.found;
    const auto found = enter(reg, actor, gauge.found, bench, gauge.found_name);
    if (!found) return found.fault();
    const auto left = enter(reg, actor, gauge.left, bench, gauge.left_name);
    if (!left) return left.fault();
    draft.as_found = *found;
    draft.as_left = *left;
    const auto gauges = reg.gauges_with_serial(record.identity.serial);
    if (!gauges) return gauges.fault();
    for (const auto& known : *gauges) {
        if (known.model != record.identity.model || draft.order != 0) continue;
        const auto order = reg.open_order_of(known.id);
        if (!order) return order.fault();
        draft.order = *order;
    }
    auto id = reg.draft(actor, draft);
    if (!id)
        id.fault().where =
            (gauge.left != nullptr ? gauge.left_name : gauge.found_name) + ": " + id.fault().where;
    return id;
}

}  // namespace tipwright::program
