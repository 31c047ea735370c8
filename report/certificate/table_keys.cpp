#include "report/certificate/table_keys.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr WordKey of_tables[] = {
    {"tables.correction", ""},
    {"tables.results", ""},
    {"tables.runs", ""},
    {"tables.document", ""},
    {"tables.mark", ""},
    {"tables.reservation", ""},
    {"tables.conformity", ""},
    {"tables.laboratory", ""},
    {"tables.gauge", ""},
    {"tables.gauge_value", "model serial"},
    {"tables.station", ""},
    {"tables.state", ""},
    {"tables.measured", ""},
    {"tables.nominal", ""},
    {"tables.catch", ""},
    {"tables.U", ""},
    {"tables.U_value", "coverage"},
    {"tables.formula", ""},
    {"tables.example", ""},
    {"tables.range", ""},
    {"tables.limits", ""},
    {"tables.rule", ""},
    {"tables.columns", ""},
    {"tables.columns_value", ""},
    {"tables.letters", ""},
    {"tables.line", "label text"},
    {"tables.see_table", ""},
    {"tables.nominal_counts", "nominal"},
};

}  // namespace

std::span<const WordKey> table_keys() {
    return of_tables;
}

}  // namespace tipwright::report::certificate
