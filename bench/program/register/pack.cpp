// Station packs: a folder or a zip; one for certificates named, or one for each station of a customer.
#include <cstdio>

#include "bench/program/files.hpp"
#include "bench/program/register/keeping.hpp"
#include "report/pack/pack.hpp"
#include "report/pack/zip.hpp"

namespace tipwright::program {

namespace {

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

}  // namespace

ExitCode make_pack(const CommonOptions& common, const PackOptions& options) {
    auto reg = open_register(options.desk);
    if (!reg) return refuse(common, reg.fault());
    std::vector<std::string> numbers = options.numbers;
    if (numbers.empty()) {
        if (options.whose.customer.empty() && options.whose.serial.empty())
            return refuse(common, {FaultCode::usage, "nothing says what to pack", "pack",
                                   "give numbers of certificates, --serial, or --customer with --station"});
        const auto standing = reg->standing_certificates(options.whose);
        if (!standing) return refuse(common, standing.fault());
        numbers = *standing;
    }
    const auto files = pack::make(*reg, numbers);
    if (!files) return refuse(common, files.fault());
    if (const Outcome written = write_pack(*files, options.out); !written)
        return refuse(common, written.fault());
    return say(common,
               "Packed " + std::to_string(numbers.size()) +
                   (numbers.size() == 1 ? " certificate into " : " certificates into ") +
                   options.out.string() + ".",
               {{"certificates", static_cast<std::int64_t>(numbers.size())}, {"pack", options.out.string()}});
}

}  // namespace tipwright::program
