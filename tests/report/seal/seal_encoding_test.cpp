#include <catch2/catch.hpp>
#include <cerrno>

#include "calib/base/dates.hpp"
#include "report/files/files.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"
#include "tests/report/scratch_folder.hpp"

using namespace tipwright;
using namespace tipwright::seal;

TEST_CASE("seal: base32 and base64 give the test vectors of RFC 4648 section 10, from memory") {
    const std::pair<const char*, const char*> base32[] = {
        {"", ""},
        {"f", "MY"},
        {"fo", "MZXQ"},
        {"foo", "MZXW6"},
        {"foob", "MZXW6YQ"},
        {"fooba", "MZXW6YTB"},
        {"foobar", "MZXW6YTBOI"}};  // printed there with padding
    for (const auto& [bytes, text] : base32) {
        CHECK(to_base32(bytes) == text);
        CHECK(from_base32(text) == std::string(bytes));
    }
    const std::pair<const char*, const char*> base64[] = {
        {"", ""},        {"f", "Zg=="},        {"fo", "Zm8="},
        {"foo", "Zm9v"}, {"foob", "Zm9vYg=="}, {"foobar", "Zm9vYmFy"}};
    for (const auto& [bytes, text] : base64) {
        CHECK(to_base64(bytes) == text);
        CHECK(from_base64(text) == std::string(bytes));
    }
    CHECK(from_base64("Zm9v\nYmFy\n") == std::string("foobar"));
}

TEST_CASE("seal: one text stands for one row of bytes, no other is read") {
    for (const char* text : {"MZ", "MZXW6YTBOJ", "M", "mzxw6", "MZXW6=", "MZXW61", "MZ XW6"})
        CHECK_FALSE(from_base32(text).has_value());
    for (const char* text : {"0", "0G", "AB", "ab c"}) CHECK_FALSE(from_hex(text).has_value());
    for (const char* text : {"Zg", "Zh==", "Zm9v*", "Z"}) CHECK_FALSE(from_base64(text).has_value());
    std::string every;
    for (int i = 0; i < 256; ++i) every.push_back(static_cast<char>(i));
    CHECK(from_hex(to_hex(every)) == every);
    CHECK(from_base32(to_base32(every)) == every);
    CHECK(from_base64(to_base64(every)) == every);
}

TEST_CASE("seal: the digest of pieces and of a file is that of the whole") {
    Sha256 digest;
    digest.add("a");
    digest.add("");
    digest.add("bc");
    CHECK(to_hex(digest.bytes()) == sha256_hex("abc"));
    const test::ScratchFolder folder;
    REQUIRE(write_file(folder / "abc", "abc"));
    CHECK(*sha256_hex_of_file(folder / "abc") == sha256_hex("abc"));
    CHECK(sha256_hex_of_file(folder / "none").fault().code == FaultCode::file_missing);
}

TEST_CASE("seal: files are written whole, read with a cap, and leave no other names") {
    const test::ScratchFolder folder;
    REQUIRE(make_folder(folder / "a/b"));
    REQUIRE(write_file(folder / "a/b/x", "one"));
    REQUIRE(write_file(folder / "a/b/x", "two"));
    CHECK(*read_file(folder / "a/b/x", 3) == "two");
    CHECK(read_file(folder / "a/b/x", 2).fault().code == FaultCode::file_too_large);
    CHECK(read_file(folder / "a/b/y", 2).fault().code == FaultCode::file_missing);
    CHECK(write_file(folder / "none/x", "one").fault().code == FaultCode::file_unwritable);
    CHECK(make_folder(folder / "a/b/x").fault().code == FaultCode::file_unwritable);
    int names = 0;
    for (const auto& entry : std::filesystem::directory_iterator(folder / "a/b"))
        names += entry.exists() ? 1 : 0;
    CHECK(names == 1);
}

TEST_CASE("seal: a full disk is told apart from a folder that may not be written") {
    CHECK(write_fault("x", ENOSPC).code == FaultCode::disk_full);
    CHECK(write_fault("x", EACCES).code == FaultCode::file_unwritable);
}

TEST_CASE("seal: dates are days that exist") {
    for (const char* text : {"2031-05-04", "2032-02-29", "2000-02-29", "1999-12-31"})
        CHECK(is_iso_date(text));
    for (const char* text :
         {"", "2031-5-04", "2031-02-29", "2100-02-29", "2031-13-01", "2031-00-10", "2031-04-31", "20310504",
          "2031-05-04T", "2031-05-0x", "1899-01-01", "-031-05-04"})
        CHECK_FALSE(is_iso_date(text));
}
