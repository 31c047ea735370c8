// A translation of an issued certificate: the same numbers in other words, marked as what it is. It takes no
// number, no seal and no place in the register: a second sealed text of one certificate would be a second
// original.
#include "bench/program/overwrite.hpp"
#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/commands.hpp"
#include "report/files/files.hpp"
#include "report/record/record_json.hpp"

namespace tipwright::program {

namespace {

struct TranslateOptions {
    Session session;
    std::string number;
    Layout layout;
    std::filesystem::path out;
};

Result<report::Record> sealed_record(report::Register& reg, const std::string& sha256) {
    const auto bytes = reg.document(sha256);
    if (!bytes) return bytes.fault();
    return report::record_from_json(*bytes, "document " + sha256);
}

// As its DCC names it; empty where there is none.
Result<std::string> language_of(report::Register& reg, const report::Certificate& certificate) {
    if (certificate.xml_sha256.empty()) return std::string();
    const auto xml = reg.document(certificate.xml_sha256);
    if (!xml) return xml.fault();
    constexpr std::string_view open = "<dcc:mandatoryLangCodeISO639_1>";
    const std::size_t begin = xml->find(open);
    if (begin == std::string::npos) return std::string();
    const std::size_t end = xml->find('<', begin + open.size());
    return xml->substr(begin + open.size(), end - begin - open.size());
}

Result<std::string> translated(const CommonOptions& common, report::Register& reg,
                               const TranslateOptions& options) {
    const auto certificate = reg.certificate(options.number);
    if (!certificate) return certificate.fault();
    const auto record = sealed_record(reg, certificate->record_sha256);
    if (!record) return record.fault();
    std::optional<report::Record> found;
    if (!certificate->as_found_sha256.empty()) {
        auto second = sealed_record(reg, certificate->as_found_sha256);
        if (!second) return second.fault();
        found = std::move(*second);
    }
    const auto language = language_of(reg, *certificate);
    if (!language) return language.fault();
    if (*language == options.layout.language)
        return Fault{FaultCode::inconsistent, "it was issued in that language", "--language " + *language,
                     "tipwright certificate export " + options.number + " hands the original out"};
    const auto maker = CertificateMaker::load(common, options.layout);
    if (!maker) return maker.fault();
    return maker->translation(*certificate, *record, found, *language);
}

ExitCode translate_certificate(const CommonOptions& common, const TranslateOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto pdf = translated(common, *reg, options);
    if (!pdf) return refuse(common, pdf.fault());
    if (auto written = write_file(options.out, *pdf); !written) return refuse(common, written.fault());
    return say(common,
               "Wrote the translation to " + options.out.string() + ". Only the issued document holds.",
               {{"file", options.out.string()}});
}

}  // namespace

void add_translate(CommandLine& line, Subcommand group) {
    auto verb = add_verb(line, group, "translate",
                         "Draw an issued certificate in another language, marked as a translation",
                         translate_certificate);
    add_session(verb.command, verb->session, false);
    verb.command.add_option("certificate", verb->number, "Number of the certificate").required();
    verb.command.add_option("--out", verb->out, "PDF to write").required().type_name("FILE.pdf");
    add_force(verb.command, verb->out);
    add_layout(verb.command, verb->layout);
}

}  // namespace tipwright::program
