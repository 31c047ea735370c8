#include "bench/program/register/signing_certificate.hpp"

#include <sys/stat.h>
#include <unistd.h>

#include "bench/program/overwrite.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/keys.hpp"
#include "bench/program/register/session_options.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

constexpr std::size_t max_p12_bytes = 1 << 20;
constexpr const char* p12_name = "signing.p12";
constexpr const char* pem_name = "signing-certificate.pem";

std::filesystem::path p12_of(const std::filesystem::path& folder) {
    return folder / p12_name;
}

bool is_there(const std::filesystem::path& file) {
    std::error_code error;
    return std::filesystem::exists(file, error);
}

// What stands in the folder is for its owner alone.
Outcome kept_private(const std::filesystem::path& file) {
    struct stat found {};
    if (::stat(file.c_str(), &found) == 0 && found.st_uid == ::geteuid() && (found.st_mode & 077) == 0)
        return Done{};
    return Fault{FaultCode::not_permitted,
                 "this secret key can be read or written by others, or belongs to someone else",
                 file.string(), "chmod 600, owned by whoever signs"};
}

ExitCode say_certificate(const CommonOptions& common, const std::string& what,
                         const seal::CertificateFacts& facts, const std::filesystem::path& folder) {
    std::string text = what + " " + facts.subject + "\nvalid from " + facts.valid_from + " to " +
                       facts.valid_to + ", SHA-256 " + facts.fingerprint;
    if (facts.self_signed)
        text +=
            "\nSelf-signed: PDF readers call the signature valid and the signer unknown, until they are told "
            "to "
            "trust " +
            (folder / pem_name).string();
    return say(common, text,
               {{"subject", facts.subject},
                {"issuer", facts.issuer},
                {"valid_from", facts.valid_from},
                {"valid_to", facts.valid_to},
                {"sha256", facts.fingerprint},
                {"self_signed", facts.self_signed}});
}

Outcome may_write(const std::filesystem::path& folder, bool replace) {
    if (!is_there(p12_of(folder)) || replace) return Done{};
    return Fault{FaultCode::duplicate, "there is a signing certificate already", p12_of(folder).string(),
                 "--replace puts a new one in its place; what was signed stays valid"};
}

}  // namespace

Result<std::optional<seal::X509Key>> open_signing_certificate(const std::filesystem::path& folder,
                                                              const seal::Passphrase& passphrase) {
    using Found = std::optional<seal::X509Key>;
    const std::filesystem::path file = p12_of(folder);
    if (!is_there(file)) return Found{};
    if (Outcome own = kept_private(file); !own) return own.fault();
    const auto bytes = read_file(file.string(), max_p12_bytes);
    if (!bytes) return bytes.fault();
    auto key = seal::X509Key::open(*bytes, passphrase, file.string());
    if (!key) return key.fault();
    return Found(std::move(*key));
}

Outcome store_signing_certificate(const std::filesystem::path& folder, const seal::X509Key& key,
                                  const seal::Passphrase& passphrase) {
    const auto locked = key.pkcs12(passphrase);
    if (!locked) return locked.fault();
    if (Outcome written = write_file(p12_of(folder).string(), *locked, 0600); !written) return written;
    return write_file((folder / pem_name).string(), key.certificate_pem());
}

namespace {

struct SigningCertificateOptions {
    std::filesystem::path folder;  // empty: the user's own
    PassphraseSource passphrase;
    seal::CertificateWish wish;
    std::filesystem::path file;  // to import
    PassphraseSource file_passphrase;
    bool replace = false;
    std::filesystem::path out;
};

// One passphrase opens both keys.
Result<seal::Passphrase> passphrase_of_seal(const std::filesystem::path& folder,
                                            const PassphraseSource& source) {
    auto passphrase = read_passphrase(source, "Passphrase of the seal");
    if (!passphrase) return passphrase;
    const auto key = seal::unlock_key(folder.string(), *passphrase);
    if (!key) return key.fault();
    return passphrase;
}

ExitCode keep(const CommonOptions& common, const std::filesystem::path& folder, const std::string& p12,
              const seal::Passphrase& its_own, const std::string& name, const seal::Passphrase& passphrase,
              const std::string& what) {
    const auto key = seal::X509Key::open(p12, its_own, name);
    if (!key) return refuse(common, key.fault());
    if (auto stored = store_signing_certificate(folder, *key, passphrase); !stored)
        return refuse(common, stored.fault());
    return say_certificate(common, what, key->facts(), folder);
}

ExitCode make_signing_certificate(const CommonOptions& common, const SigningCertificateOptions& options) {
    const std::filesystem::path folder = keys_folder(options.folder);
    if (auto may = may_write(folder, options.replace); !may) return refuse(common, may.fault());
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    const auto passphrase = passphrase_of_seal(folder, options.passphrase);
    if (!passphrase) return refuse(common, passphrase.fault());
    seal::CertificateWish wish = options.wish;
    wish.made_on = today(*now);
    const auto made = seal::make_certificate(wish, *passphrase);
    if (!made) return refuse(common, made.fault());
    return keep(common, folder, *made, *passphrase, "certificate", *passphrase, "Made, for trials,");
}

ExitCode import_signing_certificate(const CommonOptions& common, const SigningCertificateOptions& options) {
    const std::filesystem::path folder = keys_folder(options.folder);
    if (auto may = may_write(folder, options.replace); !may) return refuse(common, may.fault());
    const auto bytes = read_file(options.file.string(), max_p12_bytes);
    if (!bytes) return refuse(common, bytes.fault());
    const auto its_own = read_passphrase(options.file_passphrase, "Passphrase of " + options.file.string());
    if (!its_own) return refuse(common, its_own.fault());
    const auto passphrase = passphrase_of_seal(folder, options.passphrase);
    if (!passphrase) return refuse(common, passphrase.fault());
    return keep(common, folder, *bytes, *its_own, options.file.string(), *passphrase, "Imported");
}

ExitCode show_signing_certificate(const CommonOptions& common, const SigningCertificateOptions& options) {
    const std::filesystem::path folder = keys_folder(options.folder);
    const auto pem = read_file((folder / pem_name).string(), max_p12_bytes);
    if (!pem) return refuse(common, pem.fault());
    const auto facts = seal::facts_of_pem(*pem, (folder / pem_name).string());
    if (!facts) return refuse(common, facts.fault());
    return say_certificate(common, "Signing certificate", *facts, folder);
}

ExitCode export_signing_certificate(const CommonOptions& common, const SigningCertificateOptions& options) {
    const std::filesystem::path folder = keys_folder(options.folder);
    const auto pem = read_file((folder / pem_name).string(), max_p12_bytes);
    if (!pem) return refuse(common, pem.fault());
    if (auto written = write_file(options.out, *pem); !written) return refuse(common, written.fault());
    return say(common, "Wrote the certificate to " + options.out.string() + ", for whoever is to trust it.",
               {{"file", options.out.string()}});
}

}  // namespace

void add_signing_certificate(CommandLine& line, Subcommand keys) {
    const auto group =
        add_group(keys, "certificate",
                  "X.509 certificate that signs PDF and XML beside the seal: make one for trials, "
                  "import, show, export");
    auto make = add_verb(line, group, "make",
                         "Make a self-signed certificate for trials: no PDF reader trusts it by itself",
                         make_signing_certificate);
    make.command.add_option("--name", make->wish.name, "Who signs: the laboratory")
        .required()
        .type_name("NAME");
    make.command.add_option("--organisation", make->wish.organisation, "Its organisation").type_name("NAME");
    make.command.add_option("--country", make->wish.country, "Its country").type_name("CC");
    make.command.add_option("--years", make->wish.years, "Years for which it is valid")
        .in_range(1, 30)
        .show_default();

    auto import = add_verb(line, group, "import", "Import a certificate with its key from a PKCS#12 file",
                           import_signing_certificate);
    import.command.add_option("file", import->file, "PKCS#12 file, as its issuer gave it")
        .required()
        .type_name("FILE.p12");
    add_passphrase(import.command, import->file_passphrase, "p12-");

    for (auto* verb : {&make, &import}) {
        verb->command.add_flag("--replace", (*verb)->replace, "Replace the present certificate");
        add_keys_folder(verb->command, (*verb)->folder);
        add_passphrase(verb->command, (*verb)->passphrase);
    }
    auto show_it = add_verb(line, group, "show", "Show what the certificate says", show_signing_certificate);
    add_keys_folder(show_it.command, show_it->folder);
    auto hand_out =
        add_verb(line, group, "export", "Write the certificate to a file (PEM) for those who are to trust it",
                 export_signing_certificate);
    add_keys_folder(hand_out.command, hand_out->folder);
    hand_out.command.add_option("--out", hand_out->out, "File to write").required().type_name("FILE.pem");
    add_force(hand_out.command, hand_out->out);
}

}  // namespace tipwright::program
