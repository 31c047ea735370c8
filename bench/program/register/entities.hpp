// What the register knows by name: people, customers, stations, gauges, the bench's instruments; and service
// orders. Options that are not given leave what stands there.
#pragma once

#include <optional>

#include "bench/program/register/session.hpp"

namespace tipwright::program {

struct IntervalOptions {
    std::optional<int> months;
    std::string agreed;
    bool none = false;
};

struct PersonOptions {
    Session session;
    std::string name;
    bool change = false;
    std::optional<bool> may_measure, may_check, may_issue, active;
    PassphraseSource new_passphrase = {};
};

struct CustomerOptions {
    Session session;
    std::string name;
    bool change = false;
    std::optional<std::string> address, contact, new_name;
    IntervalOptions interval;
};

struct StationOptions {
    Session session;
    std::string name;
    std::string customer;
    bool change = false;
    std::optional<std::string> place, new_name;
    std::filesystem::path csv;
};

struct GaugeOptions {
    Session session;
    std::string serial;
    std::string model;  // tells apart gauges of one serial
    std::string from;   // gauge description
    bool change = false;
    bool other_model_meant = false;
    std::optional<std::string> kind, catch_method, contacts, customer, station, in_service_on, note,
        new_serial, new_model;
    std::optional<double> nominal_tip_mm, catch_diameter_mm, catch_diameter_u_mm;
    IntervalOptions interval;
    std::filesystem::path csv;
};

struct InstrumentOptions {
    Session session;
    std::string serial;
    std::string role;
    std::optional<std::string> description, bench;
    std::string certificate, calibrated_on, due_on, traceability;
    std::string good_until, found_on, found;
    std::filesystem::path csv;
};

struct ServiceOptions {
    Session session;
    std::string serial;
    std::string model;
    std::string on;  // date; empty: today
    std::string condition, request, found, done;
    std::optional<double> turns_a, turns_b, change_a_mL, change_b_mL;
    bool open_only = false;
    std::filesystem::path csv;
};

ExitCode put_person(const CommonOptions& common, const PersonOptions& options);
ExitCode set_person_passphrase(const CommonOptions& common, const PersonOptions& options);
ExitCode list_people(const CommonOptions& common, const PersonOptions& options);
ExitCode put_customer(const CommonOptions& common, const CustomerOptions& options);
ExitCode list_customers(const CommonOptions& common, const CustomerOptions& options);
ExitCode put_station(const CommonOptions& common, const StationOptions& options);
ExitCode list_stations(const CommonOptions& common, const StationOptions& options);
ExitCode put_gauge(const CommonOptions& common, const GaugeOptions& options);
ExitCode list_gauges(const CommonOptions& common, const GaugeOptions& options);
ExitCode import_gauges(const CommonOptions& common, const GaugeOptions& options);
ExitCode put_instrument(const CommonOptions& common, const InstrumentOptions& options);
ExitCode put_calibration(const CommonOptions& common, const InstrumentOptions& options);
ExitCode fail_instrument(const CommonOptions& common, const InstrumentOptions& options);
ExitCode list_instruments(const CommonOptions& common, const InstrumentOptions& options);
ExitCode open_order(const CommonOptions& common, const ServiceOptions& options);
ExitCode add_finding(const CommonOptions& common, const ServiceOptions& options);
ExitCode add_adjustment(const CommonOptions& common, const ServiceOptions& options);
ExitCode close_order(const CommonOptions& common, const ServiceOptions& options);
ExitCode list_orders(const CommonOptions& common, const ServiceOptions& options);

// The one gauge, or instrument, that is meant. Fault: unknown_field, bad_value (several: say which).
Result<report::GaugeEntry> gauge_meant(report::Register& reg, const std::string& serial,
                                       const std::string& model);
Result<report::InstrumentEntry> instrument_meant(report::Register& reg, const std::string& serial,
                                                 const std::string& role);

}  // namespace tipwright::program
