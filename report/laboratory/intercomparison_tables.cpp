// An intercomparison's table read, and its scores as JSON, CSV and lines for a terminal.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "calib/base/csv.hpp"
#include "calib/base/padding.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/files/inert_text.hpp"
#include "report/laboratory/intercomparison_report.hpp"

namespace tipwright::report {

namespace {

using calib::Score;

std::string_view name_of(Score score) {
    return calib::score_names[static_cast<std::size_t>(score)];
}

std::string shown(const std::optional<double>& value) {
    if (!value) return {};
    char text[32];
    std::snprintf(text, sizeof text, "%.4g", *value);
    return text;
}

ComparedPlace& place_named(std::vector<ComparedPlace>& places, const std::string& at) {
    for (ComparedPlace& one : places)
        if (one.at == at) return one;
    places.push_back({at, {}, {}, {}});
    return places.back();
}

// Where the table's columns are; -1: not there.
struct Columns {
    int participant = -1, value = -1, U = -1, k = -1, at = -1;
};

}  // namespace

Result<IntercomparisonReport> read_intercomparison(std::string_view text, const std::string& name,
                                                   double sigma_pt) {
    const auto table = parse_csv(text, name);
    if (!table) return table.fault();
    const auto fault = [&](FaultCode code, const CsvField& field, const std::string& what,
                           const std::string& remedy) {
        return Fault{code, what, name + ":" + std::to_string(field.at.line), remedy};
    };
    if (table->rows.empty())
        return Fault{FaultCode::missing_field, "there is no heading", name,
                     "give columns participant, value, and perhaps U, k, at"};
    Columns columns;
    const auto& heading = table->rows.front().fields;
    for (std::size_t i = 0; i < heading.size(); ++i) {
        const int at = static_cast<int>(i);
        const std::string& word = heading[i].text;
        int* place = word == "participant" ? &columns.participant
                     : word == "value"     ? &columns.value
                     : word == "U"         ? &columns.U
                     : word == "k"         ? &columns.k
                     : word == "at"        ? &columns.at
                                           : nullptr;
        if (place == nullptr)
            return fault(FaultCode::unknown_field, heading[i], "no column is called " + in_quotes(word),
                         "columns are participant, value, U, k, at");
        *place = at;
    }
    if (columns.participant < 0 || columns.value < 0)
        return Fault{FaultCode::missing_field, "columns participant and value are needed", name,
                     "name them in the heading"};
    IntercomparisonReport out;
    out.name = name;
    for (const CsvField& remark : table->remarks)
        if (remark.text.find("invented") != std::string::npos) out.invented = true;
    for (std::size_t r = 1; r < table->rows.size(); ++r) {
        const auto& row = table->rows[r].fields;
        const auto field = [&](int at) -> const CsvField* {
            return at >= 0 && at < static_cast<int>(row.size()) ? &row[static_cast<std::size_t>(at)]
                                                                : nullptr;
        };
        const auto number = [&](int at, bool& good) -> std::optional<double> {
            const CsvField* one = field(at);
            if (one == nullptr || one->text.empty()) return std::nullopt;
            const std::string plain = with_decimal_point(one->text, table->separator);
            char* end = nullptr;
            const double value = std::strtod(plain.c_str(), &end);
            good = good && end == plain.c_str() + plain.size() && std::isfinite(value);
            return value;
        };
        const CsvField* who = field(columns.participant);
        if (who == nullptr || who->text.empty())
            return fault(FaultCode::missing_field, row.front(), "no participant is named", "name one");
        bool good = true;
        const auto value = number(columns.value, good), U = number(columns.U, good),
                   k = number(columns.k, good);
        if (!good || !value)
            return fault(FaultCode::bad_value, *who,
                         "value, U or k of " + in_quotes(who->text) + " is no number",
                         "give numbers; U and k may be empty");
        const CsvField* at = field(columns.at);
        ComparedPlace& place = place_named(out.places, at ? at->text : "");
        if (who->text == "reference") {
            if (place.reference)
                return fault(FaultCode::duplicate, *who, "a second reference of one place", "keep one");
            if (!U) return fault(FaultCode::missing_field, *who, "the reference lacks its U", "give it");
            place.reference = calib::AssignedValue{*value, *U, k.value_or(2), false, 0};
            continue;
        }
        if (std::any_of(place.participants.begin(), place.participants.end(),
                        [&](const calib::Participant& one) { return one.name == who->text; }))
            return fault(FaultCode::duplicate, *who, in_quotes(who->text) + " stands there twice",
                         "keep one result of each");
        place.participants.push_back({who->text, *value, U, k.value_or(2)});
    }
    if (out.places.empty())
        return Fault{FaultCode::too_few_points, "there is no result in it", name, "give one a line"};
    for (ComparedPlace& place : out.places) {
        auto scores = calib::intercompare(place.participants, place.reference,
                                          sigma_pt > 0 ? std::optional<double>(sigma_pt) : std::nullopt);
        if (!scores)
            return Fault{scores.fault().code, scores.fault().what,
                         name + (place.at.empty() ? "" : ", at " + visible(place.at)), scores.fault().remedy};
        place.scores = std::move(*scores);
    }
    return out;
}

std::string intercomparison_json(const IntercomparisonReport& report) {
    nlohmann::ordered_json out = {{"format", "tipwright intercomparison"}, {"version", "1.0"}};
    out["table"] = valid_utf8(report.name);
    out["invented"] = report.invented;
    auto& places = out["places"] = nlohmann::ordered_json::array();
    for (const ComparedPlace& place : report.places) {
        const auto& assigned = place.scores.assigned;
        nlohmann::ordered_json one = {{"at", valid_utf8(place.at)},
                                      {"assigned", assigned.value},
                                      {"U", assigned.U},
                                      {"k", assigned.k},
                                      {"consensus", assigned.consensus}};
        if (assigned.consensus) one["robust_sd"] = assigned.robust_sd;
        if (place.scores.sigma_pt) one["sigma_pt"] = *place.scores.sigma_pt;
        one["z_includes_u"] = place.scores.z_includes_u;
        auto& rows = one["participants"] = nlohmann::ordered_json::array();
        for (std::size_t i = 0; i < place.participants.size(); ++i) {
            const auto& score = place.scores.scores[i];
            nlohmann::ordered_json row = {{"participant", valid_utf8(place.participants[i].name)},
                                          {"value", place.participants[i].value},
                                          {"difference", score.difference}};
            if (place.participants[i].U) row["U"] = *place.participants[i].U;
            if (score.en) row["en"] = *score.en;
            if (score.zeta) row["zeta"] = *score.zeta;
            if (score.z) row["z"] = *score.z;
            if (score.agrees) row["agrees"] = *score.agrees;
            if (score.by_zeta) row["by_zeta"] = name_of(*score.by_zeta);
            if (score.by_z) row["by_z"] = name_of(*score.by_z);
            rows.push_back(std::move(row));
        }
        places.push_back(std::move(one));
    }
    return out.dump(1) + "\n";
}

std::string intercomparison_csv(const IntercomparisonReport& report) {
    std::string out = "at,participant,value,U,assigned,assigned_U,difference,en,zeta,z,agrees,by_zeta,by_z\n";
    for (const ComparedPlace& place : report.places)
        for (std::size_t i = 0; i < place.participants.size(); ++i) {
            const auto& one = place.participants[i];
            const auto& score = place.scores.scores[i];
            out += text_field(place.at) + "," + text_field(one.name) + "," + shown(one.value) + "," +
                   shown(one.U) + "," + shown(place.scores.assigned.value) + "," +
                   shown(place.scores.assigned.U) + "," + shown(score.difference) + "," + shown(score.en) +
                   "," + shown(score.zeta) + "," + shown(score.z) + "," +
                   (score.agrees ? (*score.agrees ? "yes" : "no") : "") + "," +
                   std::string(score.by_zeta ? name_of(*score.by_zeta) : "") + "," +
                   std::string(score.by_z ? name_of(*score.by_z) : "") + "\n";
        }
    return out;
}

std::string intercomparison_text(const IntercomparisonReport& report) {
    std::string out;
    for (const ComparedPlace& place : report.places) {
        const auto& assigned = place.scores.assigned;
        const auto rounded = calib::round_with_uncertainty(assigned.value, assigned.U);
        out += (place.at.empty() ? "" : "at " + visible(place.at) + ": ") +
               (assigned.consensus ? std::string("consensus ") : std::string("reference ")) + rounded.value +
               " ± " + rounded.uncertainty + "\n";
        const auto number = [](const std::optional<double>& value, int decimals) {
            return value ? calib::fixed(*value, decimals) : std::string("-");
        };
        for (std::size_t i = 0; i < place.participants.size(); ++i) {
            const auto& score = place.scores.scores[i];
            out += "  " + flush_left(visible(place.participants[i].name), 20) +
                   flush_right(number(place.participants[i].value, std::max(rounded.decimals, 0)), 12) +
                   "  E_n " + flush_right(number(score.en, 2), 6) + "  zeta " +
                   flush_right(number(score.zeta, 2), 6) + "  z " + flush_right(number(score.z, 2), 6) +
                   "  " +
                   (score.agrees ? (*score.agrees ? "agrees" : "does not agree")
                    : score.by_z ? std::string(name_of(*score.by_z))
                                 : std::string()) +
                   "\n";
        }
    }
    return out;
}

}  // namespace tipwright::report
