// How long what is written into the register may be, on both sides of each limit; and what is not text at
// all.
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEST_CASE("register: a name of 200 bytes is kept whole, one of 201 is refused") {
    Laboratory<OnSqlite> lab;
    const Id kept = got(lab.reg.put_customer(technician, {0, std::string(200, 'n'), "", "", {}}));
    CHECK(kept != 0);
    CHECK(refused(lab.reg.put_customer(technician, {0, std::string(201, 'n'), "", "", {}})) ==
          FaultCode::bad_value);
}

TEST_CASE("register: a reason of 4000 bytes is kept, one of 4001 or one that is no text is refused") {
    Laboratory<OnSqlite> lab;
    const auto refusal = [](const Outcome& outcome) {
        return outcome ? std::string() : outcome.fault().what;
    };
    const Id sent_back = lab.checked(lab.entered(record_of("EX-1")));
    CHECK(refusal(lab.reg.send_back(checker, sent_back, std::string(4001, 'w'))) == "longer than 4000 bytes");
    CHECK(refusal(lab.reg.send_back(checker, sent_back, "bad \xff text")).find("is not UTF-8 text") !=
          std::string::npos);
    CHECK(got(lab.reg.certificate(sent_back)).state == CertificateState::checked);
    CHECK(refusal(lab.reg.send_back(checker, sent_back, std::string(4000, 'w'))).empty());
    CHECK(got(lab.reg.certificate(sent_back)).state == CertificateState::draft);
    CHECK(refusal(lab.reg.discard(technician, sent_back, std::string(4001, 'w'))) ==
          "longer than 4000 bytes");
    CHECK(refusal(lab.reg.discard(technician, sent_back, "bad \xff text")).find("is not UTF-8 text") !=
          std::string::npos);
    CHECK(refusal(lab.reg.discard(technician, sent_back, std::string(4000, 'w'))).empty());
    CHECK(got(lab.reg.certificate(sent_back)).state == CertificateState::discarded);
    lab.inspected();
}
