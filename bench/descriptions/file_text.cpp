#include "bench/descriptions/file_text.hpp"

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>
#include <system_error>

namespace tipwright::bench {

Result<DescriptionText> read_file(const std::filesystem::path& path, const std::string& name,
                                  std::size_t cap) {
    std::error_code error;
    if (!std::filesystem::is_regular_file(path, error)) {
        const bool there = std::filesystem::exists(path, error);
        return Fault{there ? FaultCode::file_unreadable : FaultCode::file_missing,
                     there ? "this is no file" : "there is no such file", name, "check the name"};
    }
    const auto close = [](std::FILE* file) { std::fclose(file); };
    const std::unique_ptr<std::FILE, decltype(close)> file(std::fopen(path.c_str(), "rb"), close);
    if (!file)
        return Fault{FaultCode::file_unreadable, std::string("cannot open: ") + std::strerror(errno), name,
                     "check its permissions"};
    DescriptionText out{name, std::string(cap + 1, '\0')};
    out.text.resize(std::fread(out.text.data(), 1, out.text.size(), file.get()));
    if (std::ferror(file.get()) != 0)
        return Fault{FaultCode::file_unreadable, "cannot be read to its end", name,
                     "copy it to another disk"};
    return out;
}

}  // namespace tipwright::bench
