#include "bench/program/results/register_check.hpp"

#include "bench/program/register/maintenance.hpp"
#include "bench/program/register/session.hpp"
#include "report/files/files.hpp"
#include "report/files/fingerprint.hpp"

namespace tipwright::program {

Result<RegisterProof> check_register(
    const std::string& place, const seal::PublicKeys* keys, const std::vector<IssuedFile>& certificates,
    const std::function<void(const std::string& file, bool ok, const std::string& text)>& add) {
    if (keys == nullptr)
        return Fault{FaultCode::missing_field, "a register is checked with the laboratory's public keys",
                     place, "give them with --public-keys"};
    Session session;
    session.location = place;
    auto reg = open_register(session);
    if (!reg && reg.fault().code != FaultCode::damaged) return reg.fault();
    if (!reg) {
        add(place, false, reg.fault().what);
        return RegisterProof{};
    }
    const auto report = reg->inspect(keys);
    if (!report) return report.fault();
    for (const Fault& fault : report->faults) add(place, false, fault.line());
    if (report->sealed_entries == 0)
        add(place, false, "its log was never sealed with these keys: nothing proves what it says");
    else
        add(place, report->faults.empty(), inspection_sentences(*report));
    for (const IssuedFile& given : certificates) {
        const auto held = reg->certificate(given.number);
        const auto bytes = read_file(given.file);
        if (!held || !bytes)
            add(given.file, false, "the register " + place + " holds no certificate " + given.number);
        else if (report::sha256_hex(*bytes) != held->pdf_sha256)
            add(given.file, false,
                "is not the certificate " + given.number + " that the register " + place + " holds");
        else
            add(given.file, true,
                "is the certificate " + given.number + " that the register " + place + " holds");
    }
    if (report->sealed_entries == 0 || !report->faults.empty()) return RegisterProof{};
    const std::int64_t since = report->audit_entries - report->sealed_entries;
    RegisterProof out;
    out.proved = "register whole and as the laboratory sealed it up to entry " +
                 std::to_string(report->sealed_entries) + " of its log (" + report->sealed_at + ")";
    out.open = (since > 0 ? "the last " + std::to_string(since) + " entries of the log, not sealed yet; "
                          : std::string()) +
               "that no older state of the register was put back: ask the laboratory for its newest seal";
    return out;
}

}  // namespace tipwright::program
