// Pictures whose kind the PDF library sets wrongly are refused when the letterhead is read, by their headers:
// PNG after ISO/IEC 15948 11.2.2, JPEG after ITU-T T.81 B.2.2.
#include <catch2/catch.hpp>

#include <filesystem>
#include <fstream>

#include "report/certificate/letterhead.hpp"
#include "tests/report/scratch_folder.hpp"

using namespace tipwright;
using namespace tipwright::report;

namespace {

std::string png_of(char depth, char colour, char interlace) {
    std::string out("\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\1\0\0\0\1", 24);
    return out + depth + colour + '\0' + '\0' + interlace + std::string(4, '\0');
}

std::string jpeg_of(char components) {
    const std::string app0("\xFF\xE0\0\4ab", 6);
    const std::string frame("\xFF\xC0\0\x11\x08\0\1\0\1", 9);
    return "\xFF\xD8" + app0 + frame + components + std::string(20, '\0');
}

Result<Letterhead> head_with(const std::string& picture) {
    const test::ScratchFolder folder;
    std::ofstream(folder / "logo.png", std::ios::binary) << picture;
    std::ofstream(folder / "head.toml") << "picture = \"logo.png\"\n";
    return load_letterhead(folder / "head.toml");
}

std::string refusal(const std::string& picture) {
    const auto head = head_with(picture);
    return head ? "" : head.fault().what;
}

}  // namespace

TEST_CASE("pictures that would come out wrong are refused with the kind they are of") {
    CHECK(refusal(png_of(16, 2, 0)).starts_with("a PNG of 16 bits"));
    CHECK(refusal(png_of(8, 2, 1)).starts_with("an interlaced PNG"));
    CHECK(refusal(png_of(8, 4, 0)).starts_with("a grey PNG with transparency"));
    CHECK(refusal(jpeg_of(4)).starts_with("a JPEG in CMYK"));
    CHECK(refusal("\xFF\xD8\xFF").starts_with("a JPEG without a frame"));
    for (const char colour : {0, 2, 3, 6}) CHECK(head_with(png_of(8, colour, 0)));
    CHECK(head_with(jpeg_of(1)));
    CHECK(head_with(jpeg_of(3)));
}
