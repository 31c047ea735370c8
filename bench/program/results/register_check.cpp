#include "bench/program/results/register_check.hpp"

#include <algorithm>

#include "bench/program/register/maintenance.hpp"
#include "bench/program/register/session.hpp"

namespace tipwright::program {

namespace {

bool holds(const report::Certificate& certificate, const IssuedFile& given) {
    if (given.is_seal) return certificate.seal && certificate.seal->fingerprint == given.sha256;
    for (const std::string* digest : {&certificate.pdf_sha256, &certificate.xml_sha256,
                                      &certificate.record_sha256, &certificate.as_found_sha256})
        if (*digest == given.sha256) return true;
    return std::any_of(certificate.others.begin(), certificate.others.end(),
                       [&](const report::NamedDocument& other) { return other.sha256 == given.sha256; });
}

}  // namespace

Result<RegisterProof> check_register(
    const std::string& place, const seal::PublicKeys* keys, const std::vector<IssuedFile>& files,
    const std::function<void(const std::string& file, bool ok, const std::string& text)>& add) {
    if (keys == nullptr)
        return Fault{FaultCode::missing_field, "a register is checked with the laboratory's public keys",
                     place, "give them with --public-keys"};
    Session session;
    session.location = place;
    auto reg = open_register_to_read(session);
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
    RegisterProof out;
    for (const IssuedFile& given : files) {
        const auto certificate = reg->certificate(given.number);
        std::string one_held = given.is_seal ? "the seal of certificate " : "a file of certificate ";
        one_held += given.number + " that the register " + place + " holds";
        if (!certificate)
            add(given.file, false, "the register " + place + " holds no certificate " + given.number);
        else if (!holds(*certificate, given))
            add(given.file, false, "is not " + one_held);
        else if (out.holds.insert(given.file).second)
            add(given.file, true, "is " + one_held);
        if (!certificate) continue;
        if (!certificate->superseded_by.empty()) out.replaced[given.number] = certificate->superseded_by;
        if (!certificate->amended_by.empty()) out.amended[given.number] = certificate->amended_by;
    }
    if (report->sealed_entries == 0 || !report->faults.empty()) return out;
    const std::int64_t since = report->audit_entries - report->sealed_entries;
    out.sealed_on = report->sealed_at.substr(0, 10);
    out.proved = "register whole and as the laboratory sealed it up to entry " +
                 std::to_string(report->sealed_entries) + " of its log (" + report->sealed_at + ")";
    out.open = (since > 0 ? "the last " + std::to_string(since) + " entries of the log, not sealed yet; "
                          : std::string()) +
               "that no older state of the register was put back: ask the laboratory for its newest seal";
    return out;
}

}  // namespace tipwright::program
