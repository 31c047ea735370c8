// LaneRun: one gauge's run from its descriptions to a closed journal, new or resumed. Several share a
// context and a clock: one for each lane.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>

#include "bench/journal/file_name.hpp"
#include "bench/program/run/lane.hpp"
#include "bench/run/recovery.hpp"

namespace tipwright::program {

using bench::journal_name;

struct Descriptions {
    bench::BenchDescription bench;
    bench::GaugeDescription gauge;
    bench::PlanDescription plan;
};

struct DescriptionNames {
    std::string bench;
    std::string gauge;
    std::string plan;
    bool within_declared = false;  // leave out steps beyond what the maker declares; else they are refused
};

// Faults: of reading them, and of a gauge, plan and bench that do not go together.
Result<Descriptions> load_descriptions(const DescriptionNames& names, const std::filesystem::path& templates);

// When a run starts. A virtual run is to be the same bytes for the same seed, so it does not ask the time of
// day; `wanted` is only for it. Fault: bad_value.
Result<std::string> start_moment(const bench::BenchDescription& bench, const std::string& wanted);

// Bench time of a run may go on after its last entry; a real one as much later as it really is.
double bench_time_to_resume_s(const bench::OpenRun& open);

// Of the clock: as the command line says, else as the description of a served bench does, else 1.
double speed_of(const bench::BenchDescription& bench, const std::optional<double>& said);
// What measures bench time: of instruments inside this program lockstep, paced where somebody wants to watch;
// else the wall's. said: see speed_of.
std::unique_ptr<bench::Clock> clock_of(boost::asio::io_context& context, bool all_inside,
                                       const bench::BenchDescription& bench,
                                       const std::optional<double>& said, double start_s = 0);

struct LaneOptions {
    std::filesystem::path templates;
    std::filesystem::path folder;
    std::uint64_t seed = 1;
    bool as_left = false;       // of a new run: the gauge after adjustment
    char side_up = 0;           // of the bucket, before the first tip: A, B; 0: not known
    std::string started_at;     // of a new run
    std::string operator_name;  // who measures; empty: whom the bench's description names
    bool durable = true;
    bench::Supervision* supervision = nullptr;   // never null; outlives the run
    bench::BenchFaults faults;                   // of a virtual bench, for trials
    std::vector<bench::Concession> concessions;  // what spoke against the bench before a new run
    std::optional<bench::KnownPumpScale> pump_scale;
};

class LaneRun {
public:
    // Opens links, makes the instruments and writes the descriptions into a new journal.
    static Result<std::unique_ptr<LaneRun>> begin(boost::asio::io_context& context, bench::Clock& clock,
                                                  Descriptions given, const LaneOptions& options);
    // Goes on with a run from the first step that was not kept; the descriptions are those of the journal.
    static Result<std::unique_ptr<LaneRun>> resume(boost::asio::io_context& context, bench::Clock& clock,
                                                   Descriptions given, bench::OpenRun open,
                                                   const LaneOptions& options);
    LaneRun(const LaneRun&) = delete;
    LaneRun& operator=(const LaneRun&) = delete;
    ~LaneRun();

    // To the closed journal; then the links are closed. Once.
    bench::Task<void> perform(bench::RunCallbacks callbacks);
    bench::RunControl& control();
    const bench::RunEnd& end() const;
    const Descriptions& given() const;
    LaneInstruments& instruments();

private:
    struct Parts;
    explicit LaneRun(std::unique_ptr<Parts> parts);
    static Result<std::unique_ptr<Parts>> make_parts(boost::asio::io_context& context, bench::Clock& clock,
                                                     Descriptions given, const LaneOptions& options);
    std::unique_ptr<Parts> parts_;
};

// "Ten rates on Virtual bench: gauge X, kind".
std::string title_of(const Descriptions& given);

}  // namespace tipwright::program
