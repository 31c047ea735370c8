// Station packs: a folder or a zip; one for certificates named, or one for each station of a customer.
#include <cstdio>
#include <map>
#include <optional>

#include "bench/program/overwrite.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/keys.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"
#include "report/pack/pack.hpp"
#include "report/pack/zip.hpp"

namespace tipwright::program {

namespace {

struct PackOptions {
    Session session;
    std::vector<std::string> numbers;
    report::ListFilter owner;
    bool each_station = false;  // a zip for each, in the folder `out`
    std::filesystem::path out;
    bool replaced_too = false;
    bool seal = false;  // the table of contents
    std::filesystem::path keys;
    PassphraseSource passphrase;
};

namespace pack = report::pack;

Outcome write_pack(const std::vector<pack::File>& files, const std::filesystem::path& out) {
    if (out.extension() == ".zip") {
        if (out.has_parent_path())
            if (auto made = make_folder(out.parent_path()); !made) return made;
        return write_file(out, pack::zip(files));
    }
    std::error_code error;
    if (std::filesystem::exists(out, error) && !std::filesystem::is_empty(out, error))
        return Fault{FaultCode::duplicate, "there is something already", out.string(),
                     "give a new folder, or a name that ends in .zip"};
    for (const pack::File& file : files) {
        const std::filesystem::path path = out / file.path;
        if (auto made = make_folder(path.parent_path()); !made) return made;
        if (auto written = write_file(path, file.bytes); !written) return written;
    }
    return Done{};
}

// "Station Upper Drizzle (invented)" as a file's name.
std::string file_name(const std::string& station) {
    std::string out;
    for (const char c : station) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           static_cast<unsigned char>(c) >= 0x80;
        if (plain)
            out += c;
        else if (!out.empty() && out.back() != '-')
            out += '-';
    }
    while (!out.empty() && out.back() == '-') out.pop_back();
    return out.empty() ? "station" : out;
}

// A zip for each station that has a certificate. One that is there already is left, so that the same command
// goes on where it was stopped; two stations whose names differ only in signs are told apart by a number.
ExitCode pack_each_station(const CommonOptions& common, report::Register& reg, const PackOptions& options,
                           const pack::MakeOptions& how) {
    report::ListFilter all = options.owner;
    all.limit = 1000000;
    const auto stations = reg.list_stations(all);
    if (!stations) return refuse(common, stations.fault());
    std::map<std::string, int> names;
    std::int64_t packed = 0;
    std::int64_t there = 0;
    for (const auto& row : stations->rows) {
        report::ListFilter filter = options.owner;
        filter.station = std::get<std::string>(row[1]);
        const auto numbers = reg.valid_certificates(filter);
        if (!numbers) return refuse(common, numbers.fault());
        if (numbers->empty()) continue;
        std::string name = file_name(filter.station);
        if (const int before = names[name]++; before > 0) name += "-" + std::to_string(before + 1);
        const std::filesystem::path out = options.out / (name + ".zip");
        std::error_code error;
        if (std::filesystem::exists(out, error)) {
            ++there;
            continue;
        }
        const auto files = pack::make(reg, *numbers, how);
        if (!files) return refuse(common, files.fault());
        if (const Outcome written = write_pack(*files, out); !written) return refuse(common, written.fault());
        ++packed;
        if (!common.json) print_to(stdout, "%s\n", out.c_str());
    }
    return say(common,
               std::to_string(packed) + " packs written" +
                   (there > 0 ? ", " + std::to_string(there) + " were there already." : "."),
               {{"packs", packed}, {"there_already", there}});
}

// Where the table of contents is to be sealed.
Result<std::optional<seal::SigningKey>> key_of_list(const PackOptions& options) {
    if (!options.seal && options.passphrase.file.empty() && !options.passphrase.descriptor)
        return std::optional<seal::SigningKey>();
    if (auto there = keys_are_there(options.keys); !there) return there.fault();
    const auto passphrase = read_passphrase(options.passphrase, "Passphrase of the seal");
    if (!passphrase) return passphrase.fault();
    auto key = seal::unlock_key(keys_folder(options.keys).string(), *passphrase);
    if (!key) return key.fault();
    return std::optional<seal::SigningKey>(std::move(*key));
}

ExitCode make_pack(const CommonOptions& common, const PackOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    if (options.each_station) {
        if (options.owner.customer.empty() || !options.owner.station.empty() || !options.numbers.empty())
            return refuse(common, {FaultCode::usage, "--each-station goes with --customer alone", "pack",
                                   "name the customer whose stations are meant"});
    }
    std::vector<std::string> numbers = options.numbers;
    if (numbers.empty() && !options.each_station) {
        if (options.owner.customer.empty() && options.owner.serial.empty())
            return refuse(common, {FaultCode::usage, "nothing says what to pack", "pack",
                                   "give numbers of certificates, --serial, or --customer with --station"});
        const auto valid = reg->valid_certificates(options.owner);
        if (!valid) return refuse(common, valid.fault());
        numbers = *valid;
    }
    const auto key = key_of_list(options);
    if (!key) return refuse(common, key.fault());
    pack::MakeOptions how;
    how.key = *key ? &**key : nullptr;
    how.replaced_too = options.replaced_too;
    if (how.key != nullptr) {
        const auto now = desk_time();
        if (!now) return refuse(common, now.fault());
        how.sealed_on = today(*now);
    }
    if (options.each_station) return pack_each_station(common, *reg, options, how);
    auto files = pack::make(*reg, numbers, how);
    if (!files) {
        if (files.fault().code == FaultCode::not_permitted)
            files.fault().remedy += "; where the void one is meant, add --replaced";
        return refuse(common, files.fault());
    }
    if (options.replaced_too)
        for (const std::string& number : numbers)
            if (const auto one = reg->certificate(number); one && !one->superseded_by.empty())
                print_to(stderr, "tipwright: warning: certificate %s is void: %s replaced it\n",
                         number.c_str(), one->superseded_by.c_str());
    if (const Outcome written = write_pack(*files, options.out); !written)
        return refuse(common, written.fault());
    return say(common,
               "Packed " + std::to_string(numbers.size()) +
                   (numbers.size() == 1 ? " certificate into " : " certificates into ") +
                   options.out.string() + ".",
               {{"certificates", static_cast<std::int64_t>(numbers.size())}, {"pack", options.out.string()}});
}

}  // namespace

void add_pack(CommandLine& line) {
    auto pack = add_verb(
        line, line.app, "pack",
        "Collect certificates, DCCs, records, corrections and seals of a station in one pack", make_pack);
    add_session(pack.command, pack->session, false);
    pack.command
        .add_option("certificates", pack->numbers, "Numbers (default: those of all gauges of --station)")
        .type_name("NUMBER");
    pack.command.add_option("--serial", pack->owner.serial, "The last certificate of this gauge")
        .type_name("SERIAL");
    add_owner(pack.command, pack->owner);
    pack.command.add_flag("--each-station", pack->each_station,
                          "A zip for each station of the customer, in the folder --out");
    pack.command.add_flag("--replaced", pack->replaced_too, "Include certificates that were replaced");
    pack.command.add_flag("--seal", pack->seal,
                          "Seal the table of contents, so that a certificate taken out is noticed");
    add_keys_folder(pack.command, pack->keys);
    add_passphrase(pack.command, pack->passphrase);
    add_force(pack.command, [options = pack.options] {
        const bool one_zip = !options->each_station && options->out.extension() == ".zip";
        return std::vector<std::filesystem::path>{one_zip ? options->out : std::filesystem::path()};
    }).description("Overwrite an existing zip");
    pack.command.add_option("--out", pack->out, "New folder, or a name that ends in .zip")
        .required()
        .type_name("DIR|FILE.zip");
}

}  // namespace tipwright::program
