#include "report/files/memory_file.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <optional>

#include "report/files/files.hpp"

using namespace tipwright;

TEST_CASE("bytes without a place on a disk can be read under their path while they are held") {
    const std::string bytes(200'000, 'x');
    std::optional<MemoryFile> file(std::in_place, bytes);
    REQUIRE(file->ok());
    const std::string path = file->path();
    CHECK(*read_file(path, bytes.size(), "") == bytes);
    file.reset();
    CHECK_FALSE(std::filesystem::exists(path));
    CHECK_FALSE(MemoryFile("").ok());
}
