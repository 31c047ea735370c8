// RunLog: what a run writes into its journal, by meaning. The first failed write is kept: the run asks for
// it and stops the water, since what cannot be kept must not be measured.
#pragma once

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>

#include "bench/instruments/roles.hpp"
#include "bench/journal/writer.hpp"
#include "bench/run/concession.hpp"
#include "bench/run/sequence.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

class RunLog {
public:
    explicit RunLog(JournalWriter& journal) : journal_(journal) {}

    void open(double time_s, const std::string& program_version, const std::string& started_at,
              const std::string& seed);
    // One entry a line of a description file: name is "gauge", "gauge kind", "bench" or "plan".
    void given(double time_s, const std::string& name, const std::string& file, const std::string& text);
    // The run is resumed from that step on; what it had in hand does not count.
    void go_on(double time_s, const std::string& continued_at, int from_step, std::uint64_t torn_bytes);
    void state(double time_s, RunState from, RunState to, int step, double intensity_mm_h);
    void pump(double time_s, double flow_mL_min);
    void drain(double time_s, bool open);
    void weight(const WeightReading& reading);
    void edge(double time_s, const ContactEdge& edge);
    void climate(const ClimateReading& reading);
    void trim(double time_s, double scale, double relative_u);
    // Standard uncertainty of when a contact edge was, as the counter measured it on this machine.
    void timing(double time_s, double edge_time_u_s);
    // repeat: which run of the step, from 1.
    void collect_opened(double time_s, int step, int repeat, std::size_t tip);
    void collect_closed(double time_s, int step, int repeat, std::size_t tip, std::string_view end);
    // The collect in progress does not count; the reason says why.
    void collect_dropped(double time_s, int step, const std::string& reason);
    void remark(double time_s, const std::string& text);
    void accepted(double time_s, const Concession& concession);
    void fault(double time_s, const Fault& fault);
    void close(double time_s, const std::string& ended_at, bool complete, const std::string& reason);

    // What was written is on the disk when this returns.
    void keep() { sync(); }

    const std::optional<Fault>& failure() const { return failure_; }

private:
    void append(double time_s, std::string_view kind, std::initializer_list<JournalField> fields);
    void sync();

    JournalWriter& journal_;
    std::optional<Fault> failure_;
};

}  // namespace tipwright::bench
