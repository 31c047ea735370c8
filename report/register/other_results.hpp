// OtherResults: what the register keeps of gauges beside its own runs and certificates (beyond_bench.hpp):
// brought in, entered, read. A connection of its own to the same register; the rules of writing are those of
// Register.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "report/register/beyond_bench.hpp"
#include "report/register/register.hpp"

namespace tipwright::report {

class OtherResults {
public:
    // The register must be there. Faults: those of Register::open.
    static Result<OtherResults> open(const std::string& location, const std::string& now);
    ~OtherResults();
    OtherResults(OtherResults&&) noexcept;
    OtherResults& operator=(OtherResults&&) noexcept;

    // Calibrations that others made, from CSV, a line a point; see import_elsewhere.cpp. All or nothing. They
    // make gauges due, and count nowhere as the laboratory's own.
    Result<ImportReport> import_calibrations(const Actor& actor, std::string_view csv,
                                             const std::string& name);
    // Oldest first.
    Result<std::vector<ElsewhereCalibration>> calibrations(Id gauge);
    Result<Id> add_field_check(const Actor& actor, const FieldCheckEntry& check);

private:
    explicit OtherResults(std::unique_ptr<Register::Impl> impl);
    std::unique_ptr<Register::Impl> impl_;
};

}  // namespace tipwright::report
