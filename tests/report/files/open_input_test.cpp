#include "report/files/open_input.hpp"

#include <sys/stat.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>

#include "report/files/files.hpp"
#include "report/files/streams.hpp"
#include "report/seal/digest.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

TEST_CASE("files: what is no file is refused, and never waited for") {
    const std::filesystem::path folder = test::scratch_dir() / "open_input";
    std::filesystem::remove_all(folder);
    std::filesystem::create_directories(folder);
    const std::string pipe = folder / "pipe";
    REQUIRE(::mkfifo(pipe.c_str(), 0600) == 0);
    for (const std::string& name : {pipe, std::string("/dev/zero")}) {
        INFO(name);
        const auto read = read_file(name);
        REQUIRE_FALSE(read);
        CHECK(read.fault().code == FaultCode::file_unreadable);
        CHECK(read.fault().what.find("pipe, a socket or a device") != std::string::npos);
        CHECK_FALSE(read_pieces(name, [](std::string_view) -> Outcome { return Done{}; }));
        CHECK_FALSE(seal::sha256_hex_of_file(name));
    }
    const auto missing = read_file(folder / "nothing");
    REQUIRE_FALSE(missing);
    CHECK(missing.fault().code == FaultCode::file_missing);
    const auto is_folder = read_file(folder);
    REQUIRE_FALSE(is_folder);
    CHECK(is_folder.fault().what == "this is a folder");
}

TEST_CASE("files: what a shell hands over as a descriptor is read") {
    int ends[2];
    REQUIRE(::pipe(ends) == 0);
    REQUIRE(::write(ends[1], "words\n", 6) == 6);
    ::close(ends[1]);
    const auto read = read_file("/dev/fd/" + std::to_string(ends[0]));
    REQUIRE(read);
    CHECK(*read == "words\n");
    ::close(ends[0]);
    const auto nothing = read_file("/dev/null");
    REQUIRE(nothing);
    CHECK(nothing->empty());
}
