#include "bench/program/page/register_desk_class.hpp"

#include <algorithm>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/page/gauge_seen.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/results/field_check.hpp"

namespace tipwright::program {

namespace {

constexpr std::size_t most_rows = 500;

void add_instruments_of(const bench::BenchDescription& bench, report::Table& table) {
    for (const auto* list : {&bench.instruments, &bench.hand_instruments})
        for (const auto& one : *list) {
            // In the bench that the register has it under.
            const auto known = std::find_if(table.rows.begin(), table.rows.end(), [&](const auto& row) {
                return report::text_of(row[0]) == one.serial && report::text_of(row[1]) == one.role;
            });
            const std::string under = known == table.rows.end() ? bench.title : report::text_of((*known)[3]);
            std::string faulty_on;
            for (const auto& row : table.rows)
                if (report::text_of(row[0]) == one.serial && report::text_of(row[1]) == one.role)
                    faulty_on = std::max(faulty_on, report::text_of(row[7]));
            if (faulty_on <= one.calibrated_on) faulty_on.clear();
            table.rows.push_back({one.serial, one.role, one.description, under, one.certificate,
                                  one.calibrated_on, one.due_on, faulty_on});
        }
}

}  // namespace

Result<page::LifeOfGauge> RegisterDesk::life(const std::string& serial) {
    return with_register([&](report::Register& reg) { return life_of_gauge(options_.common, reg, serial); });
}

Result<page::FieldCheckSeen> RegisterDesk::field_check(const report::Actor& actor,
                                                       const page::FieldCheckWanted& wanted) {
    return with_register([&](report::Register& reg) -> Result<page::FieldCheckSeen> {
        FieldCheckOptions options;
        options.serial = wanted.serial;
        options.tips = wanted.tips;
        if (wanted.collected) {
            options.collected_g = wanted.amount;
            options.collected_u_g = wanted.amount_u;
            options.lost_g = wanted.astray;
            options.lost_u_g = wanted.astray_u;
        } else {
            options.poured_mL = wanted.amount;
            options.poured_u_mL = wanted.amount_u;
            options.retained_mL = wanted.astray;
            options.retained_u_mL = wanted.astray_u;
        }
        options.water_temperature_C = wanted.water_temperature_C;
        options.duration_s = wanted.duration_s;
        options.limit_percent = wanted.limit_percent;
        options.began_on_tip = wanted.began_on_tip;
        options.ended_on_tip = wanted.ended_on_tip;
        options.made_on = wanted.made_on;
        options.reason = wanted.accept;
        options.note = wanted.note;
        auto done = check_in_field(options_.common, reg, now_of(actor), options);
        if (!done) return done.fault();
        page::FieldCheckSeen out{wanted, std::move(done->check)};
        out.wanted.serial = done->facts.serial;
        return out;
    });
}

Result<report::Table> RegisterDesk::gauges(const page::CertificateWanted& wanted) {
    return with_register([&](report::Register& reg) { return reg.list_gauges(filter_of(wanted)); });
}

Result<report::Table> RegisterDesk::due() {
    return with_register([](report::Register& reg) {
        report::ListFilter filter;
        filter.limit = most_rows;
        return reg.due(filter);
    });
}

Result<report::Table> RegisterDesk::instruments() {
    return with_register([&](report::Register& reg) -> Result<report::Table> {
        auto table = reg.list_instruments();
        // The register knows a calibration once a certificate used it; the bench's description before.
        if (table && !options_.bench.empty())
            if (const auto bench = bench::load_bench(options_.bench, options_.common.templates))
                add_instruments_of(*bench, *table);
        return table;
    });
}

Result<report::Table> RegisterDesk::recall(const page::RecallWanted& wanted) {
    return with_register([&](report::Register& reg) -> Result<report::Table> {
        const auto instrument = instrument_meant(reg, wanted.instrument, "");
        if (!instrument) return instrument.fault();
        // Without dates all.
        return reg.recall(instrument->id, wanted.from.empty() ? "1900-01-01" : wanted.from,
                          wanted.to.empty() ? "9999-12-31" : wanted.to, most_rows);
    });
}

Result<report::Table> RegisterDesk::in_tolerance() {
    return with_register([](report::Register& reg) { return reg.in_tolerance(); });
}

}  // namespace tipwright::program
