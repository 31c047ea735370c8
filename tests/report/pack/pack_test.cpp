#include "report/pack/pack.hpp"

#include "report/certificate/certificate.hpp"
#include "report/certificate/correction_words.hpp"
#include "report/certificate/text_block.hpp"
#include "report/dcc/dcc.hpp"
#include "report/files/fingerprint.hpp"
#include "report/pack/formula_text.hpp"
#include "report/pack/zip.hpp"
#include "report/tables/correction_csv.hpp"
#include "tests/report/register_fixture.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

// Documents as the program makes them, but for the code on the page.
DocumentMaker real_documents(const seal::SigningKey& key) {
    const auto words = sample_words(tipwright::test::source_dir());
    return [&key, words](const IssueSheet& sheet) -> Result<Documents> {
        const Record& record = sheet.as_left ? *sheet.as_left : *sheet.as_found;
        CertificateOptions options;
        options.words = words;
        if (sheet.as_left && sheet.as_found) options.as_found = sheet.as_found;
        auto pdf = draw_certificate(record, options);
        if (!pdf) return pdf.fault();
        DccOptions dcc;
        dcc.words = words;
        dcc.country = "ZZ";
        auto xml = dcc_xml(record, dcc);
        if (!xml) return xml.fault();
        Documents out;
        out.pdf = *pdf;
        out.xml = *xml;
        const auto text = [&](const std::string& content) {
            return seal::seal_file(seal::FileKind::text, content, sheet.number, sheet.issued_on, key);
        };
        if (const auto table = correction_csv(record, words))
            out.others.push_back({"correction.csv", text(*table)});
        out.others.push_back({"formula.txt", text(formula_text(record, words))});
        return out;
    };
}

struct Packed : Laboratory<OnSqlite> {
    seal::SigningKey signing = key();
    seal::PublicKeys known = public_keys();
    std::string first = issue_of(entered(record_of("EX-1")),
                                 entered(record_of("EX-1", "2026-03-02", report::State::as_left, 6.283)));
    std::string second = issue_of(entered(record_of("EX-2")), 0);
    std::vector<pack::File> files = got(pack::make(reg, {second, first}));

    std::string issue_of(Id found, Id left) {
        return got(reg.issue(at(signatory, "2026-03-05T09:00:00Z"), checked(found, left), "B1", signing,
                             real_documents(signing)))
            .number;
    }
    pack::File& file(const std::string& path) {
        for (pack::File& one : files)
            if (one.path == path) return one;
        FAIL("no " << path);
        return files.front();
    }
    // Paths of what is wrong.
    std::vector<std::string> wrong() const {
        std::vector<std::string> out;
        for (const pack::Finding& finding : pack::check(files, known))
            if (!finding.ok) out.push_back(finding.path);
        return out;
    }
};

bool holds(const std::vector<pack::Finding>& findings) {
    for (const pack::Finding& finding : findings)
        if (!finding.ok) return false;
    return true;
}

}  // namespace

TEST_CASE("pack: holds all that goes with a station, and says so") {
    Packed lab;
    std::vector<std::string> paths;
    for (const pack::File& file : lab.files) paths.push_back(file.path);
    CHECK(paths == std::vector<std::string>{"B1-2026-00001/certificate.pdf", "B1-2026-00001/certificate.xml",
                                            "B1-2026-00001/correction.csv", "B1-2026-00001/formula.txt",
                                            "B1-2026-00001/record-as-found.json", "B1-2026-00001/record.json",
                                            "B1-2026-00001/seal.txt", "B1-2026-00002/certificate.pdf",
                                            "B1-2026-00002/certificate.xml", "B1-2026-00002/correction.csv",
                                            "B1-2026-00002/formula.txt", "B1-2026-00002/record.json",
                                            "B1-2026-00002/seal.txt", "SHA256SUMS", "contents.txt"});
    CHECK(lab.wrong().empty());
    const std::string& contents = lab.file("contents.txt").bytes;
    for (const char* said : {"B1-2026-00001", "B1-2026-00002", "serial EX-1", "serial EX-2",
                             "state       as found and as left\n", "state       as found\n",
                             "traceable   mass, time, temperature"})
        CHECK(contents.find(said) != std::string::npos);
    CHECK(lab.files.size() == got(pack::make(lab.reg, {lab.first, lab.second, lab.first})).size());
    CHECK(refused(pack::make(lab.reg, {})) == FaultCode::missing_field);
    CHECK(refused(pack::make(lab.reg, {"B1-2026-00009"})) == FaultCode::unknown_field);
    CHECK(refused(pack::make(lab.reg, std::vector<std::string>(1001, lab.first))) == FaultCode::bad_value);
}

TEST_CASE("pack: what is missing, more, exchanged or changed is named") {
    Packed lab;
    SECTION("missing") {
        for (const char* name : {"certificate.pdf", "certificate.xml", "correction.csv", "formula.txt",
                                 "record.json", "seal.txt", "record-as-found.json"}) {
            Packed other;
            const std::string path = std::string("B1-2026-00001/") + name;
            std::erase_if(other.files, [&](const pack::File& file) { return file.path == path; });
            INFO(path);
            CHECK_FALSE(other.wrong().empty());
        }
    }
    SECTION("more") {
        lab.files.push_back({"B1-2026-00001/note.txt", "trust me"});
        CHECK(lab.wrong() == std::vector<std::string>{"B1-2026-00001/note.txt", "SHA256SUMS"});
        lab.files.back() = {"public-keys.txt", "tipwright public keys 1\n"};
        CHECK(lab.wrong() == std::vector<std::string>{"public-keys.txt", "SHA256SUMS"});
        lab.files.back() = lab.files.front();
        CHECK_FALSE(lab.wrong().empty());
    }
    SECTION("a whole folder left out is told by the lists") {
        std::erase_if(lab.files, [&](const pack::File& file) { return file.path.starts_with(lab.second); });
        CHECK(lab.wrong() == std::vector<std::string>{"contents.txt", "SHA256SUMS"});
    }
    SECTION("files of two gauges exchanged") {
        for (const char* name : {"certificate.pdf", "certificate.xml", "correction.csv", "record.json"}) {
            Packed other;
            std::swap(other.file(std::string("B1-2026-00001/") + name).bytes,
                      other.file(std::string("B1-2026-00002/") + name).bytes);
            INFO(name);
            CHECK(other.wrong().size() >= 2);
        }
    }
    SECTION("a text under the name of another") {
        Packed other;
        std::swap(lab.file("B1-2026-00001/correction.csv").bytes,
                  lab.file("B1-2026-00001/formula.txt").bytes);
        CHECK(lab.wrong() == std::vector<std::string>{"B1-2026-00001/formula.txt",
                                                      "B1-2026-00001/correction.csv", "SHA256SUMS"});
        other.file("B1-2026-00001/correction.csv").bytes = other.file("B1-2026-00001/formula.txt").bytes;
        CHECK(other.wrong() == std::vector<std::string>{"B1-2026-00001/correction.csv", "SHA256SUMS"});
    }
    SECTION("another laboratory's keys") {
        const std::string keys = lab.folder / "others";
        got(seal::make_keys(keys, seal::Passphrase("a passphrase"), "2026-01-01", {1, 8192}));
        lab.known = got(seal::PublicKeys::read(keys + "/public-keys.txt"));
        CHECK(lab.wrong().size() >= 8);
    }
    SECTION("nothing") {
        lab.files.clear();
        CHECK_FALSE(lab.wrong().empty());
    }
}

TEST_CASE("pack: whether a certificate was taken out is known by a sealed list alone") {
    Packed lab;
    const auto whole = [&](const std::vector<pack::File>& files) {
        return holds(pack::check(files, lab.known)) && pack::list_is_sealed(files, lab.known);
    };
    const std::vector<pack::File> fewer = got(pack::make(lab.reg, {lab.first}));
    CHECK(lab.wrong().empty());
    CHECK_FALSE(whole(lab.files));  // nothing to tell it from `fewer`, which needs no key
    const pack::MakeOptions sealed{&lab.signing, "2026-03-06", false};
    std::vector<pack::File> files = got(pack::make(lab.reg, {lab.first, lab.second}, sealed));
    CHECK(whole(files));
    const auto with_contents = [&](std::vector<pack::File> in, const std::string& bytes) {
        std::string sums;
        for (pack::File& file : in)
            if (file.path == pack::contents_name) file.bytes = bytes;
        for (const pack::File& file : in)
            if (file.path != pack::checksums_name) sums += sha256_hex(file.bytes) + "  " + file.path + "\n";
        for (pack::File& file : in)
            if (file.path == pack::checksums_name) file.bytes = sums;
        return in;
    };
    const auto contents = [](const std::vector<pack::File>& in) {
        for (const pack::File& file : in)
            if (file.path == pack::contents_name) return file.bytes;
        return std::string();
    };
    // One is cut out, and list and checksums are made anew without a key.
    CHECK_FALSE(holds(pack::check(with_contents(fewer, contents(files)), lab.known)));
    std::string moved = contents(fewer);
    moved += contents(files).substr(contents(files).rfind("# tipwright-file-seal"));
    CHECK_FALSE(holds(pack::check(with_contents(fewer, moved), lab.known)));
    CHECK_FALSE(whole(with_contents(fewer, contents(fewer))));
    // A list sealed as a file of a certificate, and a changed byte of the seal.
    const std::string as_file =
        seal::seal_file(seal::FileKind::text, contents(fewer), lab.first, "2026-03-06", lab.signing);
    CHECK_FALSE(holds(pack::check(with_contents(fewer, as_file), lab.known)));
    std::string changed = contents(files);
    changed[changed.size() - 5] = changed[changed.size() - 5] == '0' ? '1' : '0';
    CHECK_FALSE(holds(pack::check(with_contents(files, changed), lab.known)));
}

// All bytes of all files are changed by tests/figures/seal_figures.cpp; here every so many.
TEST_CASE("pack: a changed byte anywhere in the zip is told") {
    Packed lab;
    const std::string zip = pack::zip(lab.files);
    CHECK(holds(pack::check(got(pack::unzip(zip, "pack.zip")), lab.known)));
    constexpr std::size_t step = 2003;  // prime, so that no structure is skipped by its period
    std::size_t changes = 0;
    std::string changed = zip;
    const auto told = [&](std::size_t i) {
        changed[i] = static_cast<char>(changed[i] ^ 1);
        const auto files = pack::unzip(changed, "pack.zip");
        const bool ok = files && holds(pack::check(*files, lab.known));
        changed[i] = zip[i];
        ++changes;
        return !ok;
    };
    bool all = true;
    for (std::size_t i = 0; i < zip.size(); i += step) all = told(i) && all;
    // The directory at the end, wholly.
    for (std::size_t i = zip.size() - 120; i < zip.size(); ++i) all = told(i) && all;
    CHECK(all);
    CHECK(changes > 300);
    for (const std::size_t cut : {std::size_t{0}, std::size_t{10}, zip.size() / 2, zip.size() - 1})
        CHECK(refused(pack::unzip(zip.substr(0, cut), "pack.zip")) == FaultCode::damaged);
    CHECK(refused(pack::unzip(zip + "x", "pack.zip")) == FaultCode::damaged);
}

TEST_CASE("pack: a changed byte in any file of the folder is told") {
    Packed lab;
    for (const std::string& path :
         {std::string("B1-2026-00001/certificate.pdf"), std::string("B1-2026-00001/certificate.xml"),
          std::string("B1-2026-00001/correction.csv"), std::string("B1-2026-00001/formula.txt"),
          std::string("B1-2026-00001/record-as-found.json"), std::string("B1-2026-00001/record.json"),
          std::string("B1-2026-00001/seal.txt"), std::string("SHA256SUMS"), std::string("contents.txt")}) {
        std::string& bytes = lab.file(path).bytes;
        for (const std::size_t i : {std::size_t{0}, bytes.size() / 3, bytes.size() - 1}) {
            INFO(path << " byte " << i);
            bytes[i] = static_cast<char>(bytes[i] ^ 1);
            CHECK_FALSE(lab.wrong().empty());
            bytes[i] = static_cast<char>(bytes[i] ^ 1);
        }
    }
    CHECK(lab.wrong().empty());
}

TEST_CASE("formula text: formula, example and range of the record, or why there is none") {
    Record record = sample_record({});
    const auto words = sample_words(tipwright::test::source_dir());
    const std::string text = formula_text(record, words);
    CHECK(text.find("\n    " + certificate::without_marks(certificate::correction_formula(record, words)) +
                    "\n") != std::string::npos);
    CHECK(text.find("\n    h(T) = ") != std::string::npos);
    CHECK(text.find("Worked example: ") != std::string::npos);
    CHECK(text.find("holds for tip intervals from") != std::string::npos);
    CHECK(text.find("serial " + record.identity.serial) != std::string::npos);
    CHECK(text.find("DEMONSTRATION") != std::string::npos);
    record.evaluation.correction.reset();
    record.evaluation.no_correction = calib::NoCorrection::static_check;
    CHECK(formula_text(record, words).find("No rate correction was derived. No duration") !=
          std::string::npos);
    const auto german = sample_words(tipwright::test::source_dir(), "de");
    CHECK(formula_text(record, german).find("zählt der Logger jede Kippung mit der Nennhöhe") !=
          std::string::npos);
    CHECK(formula_text(record, german).find("Nennhöhe je Kippung: 0,2 mm\n") != std::string::npos);
    const auto french = sample_words(tipwright::test::source_dir(), "fr");
    CHECK(formula_text(record, french).find(french.text("tables.state") + " : ") != std::string::npos);
}

TEMPLATE_TEST_CASE("register: lists and standing certificates", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const std::string first = lab.certified("EX-1", "2026-03-05");
    const std::string later = lab.certified("EX-1", "2027-03-05", 6.2);
    const std::string other = lab.certified("EX-2", "2027-03-06");
    const std::string customer = record_of("EX-1").customer.name;
    ListFilter filter;
    CHECK(got(lab.reg.valid_certificates(filter)) == std::vector<std::string>{later, other});
    filter.serial = "ex-1";
    CHECK(got(lab.reg.valid_certificates(filter)) == std::vector<std::string>{later});
    CHECK(got(lab.reg.list_certificates(filter)).rows.size() == 2);
    CHECK(got(lab.reg.list_gauges(filter)).rows.size() == 1);
    filter = {};
    filter.customer = customer;
    CHECK(got(lab.reg.list_gauges(filter)).rows.size() == 2);
    filter.limit = 1;
    CHECK(got(lab.reg.list_gauges(filter)).cut);
    const Table last = got(lab.reg.list_certificates(filter));
    REQUIRE(last.rows.size() == 1);
    CHECK(std::get<std::string>(last.rows[0][0]) == other);
    CHECK(last.cut);
    CHECK(got(lab.reg.list_customers()).rows.size() == 1);
    CHECK(got(lab.reg.list_instruments()).rows.size() >= 1);
    const GaugeEntry gauge = got(lab.reg.gauges_with_serial("EX-1")).front();
    CHECK(got(lab.reg.customer(gauge.customer)).name == customer);
    CHECK(got(lab.reg.station(gauge.station)).customer == gauge.customer);
    CHECK(got(lab.reg.station(gauge.customer, got(lab.reg.station(gauge.station)).name)).id == gauge.station);
    CHECK(refused(lab.reg.customer(Id{99})) == FaultCode::unknown_field);
    CHECK(refused(lab.reg.station(Id{99})) == FaultCode::unknown_field);
    CHECK(got(lab.reg.open_order_of(gauge.id)) == 0);
    const Actor now = at(technician, "2027-03-06T09:00:00Z");
    const Id order = got(lab.reg.open_order(now, {0, gauge.id, "2027-03-06", "dusty", "", ""}));
    CHECK(got(lab.reg.open_order_of(gauge.id)) == order);
    filter = {};
    CHECK(got(lab.reg.list_orders(filter, true)).rows.size() == 1);
    done(lab.reg.close_order(now, order));
    CHECK(got(lab.reg.list_orders(filter, true)).rows.empty());
    CHECK(got(lab.reg.list_orders(filter, false)).rows.size() == 1);
    CHECK(got(lab.reg.record(got(lab.reg.certificate(other)).as_found)).identity.serial == "EX-2");
    CHECK(refused(lab.reg.record(999)) == FaultCode::unknown_field);
    filter.station = "nowhere";
    CHECK(refused(lab.reg.list_gauges(filter)) == FaultCode::missing_field);
    filter.customer = customer;
    CHECK(refused(lab.reg.list_gauges(filter)) == FaultCode::unknown_field);
}
