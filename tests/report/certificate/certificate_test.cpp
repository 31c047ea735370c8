// The certificate as a file: structure, layout on the page, refusals.
#include <catch2/catch.hpp>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <regex>

#include "report/certificate/canvas.hpp"
#include "report/certificate/font_file.hpp"
#include "report/certificate/letterhead.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "tests/report/pdf_text.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
namespace fs = std::filesystem;

namespace {

fs::path folder() {
    const fs::path path = tipwright::test::scratch_dir() / "tests" / "certificates";
    fs::create_directories(path);
    return path;
}

std::string written(const std::string& name, const std::string& bytes) {
    const fs::path file = folder() / (name + ".pdf");
    std::ofstream(file, std::ios::binary) << bytes;
    return file.string();
}

bool have(const std::string& tool) {
    return std::system(("command -v " + tool + " > /dev/null 2>&1").c_str()) == 0;
}

std::string output_of(const std::string& command) {
    std::string out;
    FILE* pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    char buffer[4096];
    for (std::size_t n; (n = std::fread(buffer, 1, sizeof buffer, pipe)) > 0;) out.append(buffer, n);
    pclose(pipe);
    return out;
}

struct Word {
    double x0, y0, x1, y1;
    std::string text;
};

// Words with their boxes, page by page, as an independent program (pdftotext -bbox) sees them.
std::vector<std::vector<Word>> words_on_pages(const std::string& file) {
    const std::string html = output_of("pdftotext -bbox '" + file + "' - 2>/dev/null");
    std::vector<std::vector<Word>> pages;
    const std::regex word(
        "<word xMin=\"([-0-9.]+)\" yMin=\"([-0-9.]+)\" xMax=\"([-0-9.]+)\" yMax=\"([-0-9.]+)\">(.*)</word>");
    std::size_t start = 0;
    while (start < html.size()) {
        const std::size_t end = std::min(html.find('\n', start), html.size());
        const std::string line = html.substr(start, end - start);
        start = end + 1;
        if (line.find("<page ") != std::string::npos) pages.emplace_back();
        std::smatch found;
        if (std::regex_search(line, found, word))
            pages.back().push_back({std::stod(found[1]), std::stod(found[2]), std::stod(found[3]),
                                    std::stod(found[4]), found[5]});
    }
    return pages;
}

// Boxes of words that stand close may touch; more than this is an overlap.
constexpr double tolerance_pt = 0.5;

bool overlap(const Word& a, const Word& b) {
    // The box of a word is a little higher than any of its letters.
    const double shrink_a = 0.03 * (a.y1 - a.y0);
    const double shrink_b = 0.03 * (b.y1 - b.y0);
    return std::min(a.x1, b.x1) - std::max(a.x0, b.x0) > tolerance_pt &&
           std::min(a.y1 - shrink_a, b.y1 - shrink_b) - std::max(a.y0 + shrink_a, b.y0 + shrink_b) >
               tolerance_pt;
}

}  // namespace

TEST_CASE("the same record gives the same bytes") {
    const auto samples = test::sample_certificates();
    const auto words = test::sample_words(test::source_dir());
    const auto first = test::draw(samples[1], words);
    const auto second = test::draw(samples[1], words);
    REQUIRE(first.ok());
    REQUIRE(second.ok());
    CHECK(*first == *second);
    CHECK(first->substr(0, 8) == "%PDF-1.7");
}

TEST_CASE("the record travels inside") {
    for (const auto& sample : test::sample_certificates()) {
        const auto pdf = test::draw(sample, test::sample_words(test::source_dir()));
        REQUIRE(pdf.ok());
        const auto record = report::read_attached_record(*pdf, "c.pdf");
        REQUIRE(record.ok());
        CHECK(*record == report::record_to_json(sample.record));
        const auto names = report::attachment_names(*pdf, "c.pdf");
        REQUIRE(names.ok());
        CHECK(names->size() == (sample.as_found ? 2 : 1));
        if (sample.as_found) {
            const auto before =
                report::read_attachment(*pdf, "c.pdf", std::string(report::attached_as_found_name));
            REQUIRE(before.ok());
            CHECK(*before == report::record_to_json(*sample.as_found));
        }
    }
}

TEST_CASE("other programs find the structure sound, the fonts embedded, the text there") {
    if (!have("qpdf") || !have("pdffonts") || !have("pdftotext")) {
        WARN("qpdf or poppler-utils are not installed: structure not checked by other programs");
        return;
    }
    for (const auto& sample : test::sample_certificates()) {
        INFO(sample.name);
        const auto pdf = test::draw(sample, test::sample_words(test::source_dir()));
        REQUIRE(pdf.ok());
        const std::string file = written(sample.name, *pdf);
        CHECK(std::system(("qpdf --check '" + file + "' > /dev/null 2>&1").c_str()) == 0);
        const std::string fonts = output_of("pdffonts '" + file + "' 2>&1");
        CHECK(fonts.find("yes yes yes") != std::string::npos);
        CHECK(fonts.find("no ") == std::string::npos);
        const std::string text = output_of("pdftotext '" + file + "' - 2>&1");
        CHECK(text.find("Syntax") == std::string::npos);
        CHECK(text.find(sample.record.number) != std::string::npos);
        if (sample.name == "twelve_steps") {
            CHECK(text.find("Παράδειγμα") != std::string::npos);
            CHECK(text.find("метеорологична") != std::string::npos);
            CHECK(text.find("Łąkowa") != std::string::npos);
            CHECK(text.find("−16.70") != std::string::npos);
        }
    }
}

namespace {

void check_layout(const test::SampleCertificate& sample, const std::string& language, report::Paper paper) {
    const double width = paper == report::Paper::a4 ? 595.3 : 612;
    const double height = paper == report::Paper::a4 ? 841.9 : 792;
    constexpr double margin = 36;
    const auto pdf = test::draw(sample, test::sample_words(test::source_dir(), language), paper);
    REQUIRE(pdf.ok());
    const auto pages = words_on_pages(written(sample.name + "_layout_" + language, *pdf));
    REQUIRE_FALSE(pages.empty());
    for (std::size_t p = 0; p < pages.size(); ++p) {
        REQUIRE_FALSE(pages[p].empty());
        for (std::size_t i = 0; i < pages[p].size(); ++i) {
            const Word& a = pages[p][i];
            INFO(language << " " << sample.name << " page " << p + 1 << " '" << a.text << "'");
            if (!(a.x0 >= margin && a.x1 <= width - margin && a.y0 >= 30 && a.y1 <= height - 16))
                FAIL_CHECK("runs off: " << a.x0 << " " << a.y0 << " " << a.x1 << " " << a.y1);
            for (std::size_t j = i + 1; j < pages[p].size(); ++j)
                if (overlap(a, pages[p][j])) FAIL_CHECK("overlaps '" << pages[p][j].text << "'");
        }
    }
}

}  // namespace

TEST_CASE("nothing overlaps and nothing runs off, on either paper, in any language") {
    if (!have("pdftotext")) {
        WARN("poppler-utils is not installed: layout not checked");
        return;
    }
    const auto samples = test::sample_certificates();
    for (const auto paper : {report::Paper::a4, report::Paper::letter})
        for (const auto& sample : samples) check_layout(sample, "en", paper);
    for (const std::string language : {"de", "fr", "es"})
        for (const auto& sample : samples)
            if (sample.name == "twelve_steps" || sample.name == "both_states" ||
                sample.name == "failing_draft")
                check_layout(sample, language, report::Paper::letter);
}

TEST_CASE("earlier calibrations are shown over this one, the latest four") {
    const auto samples = test::sample_certificates();
    const auto& sample = samples.front();
    report::CertificateOptions options;
    options.words = test::sample_words(test::source_dir());
    const auto text_of = [&] {
        const auto pdf = report::draw_certificate(sample.record, options);
        REQUIRE(pdf.ok());
        return test::joined_text(*pdf);
    };
    CHECK(text_of().find("Earlier calibrations") == std::string::npos);
    for (int year = 2021; year < 2026; ++year)
        options.history.push_back({std::to_string(year) + "-03-02",
                                   "B1-" + std::to_string(year) + "-00007",
                                   report::State::as_left,
                                   {{20, 1.2, 0.3}, {200, -5.0, 0.2}}});
    const std::string text = text_of();
    CHECK(text.find("Earlier calibrations of this gauge") != std::string::npos);
    CHECK(text.find("2 March 2025, as left: B1-2025-00007") != std::string::npos);
    CHECK(text.find("B1-2022-00007") != std::string::npos);
    CHECK(text.find("B1-2021-00007") == std::string::npos);
}

TEST_CASE("a run that was broken off is certified for the steps it finished, and page 1 says so") {
    auto sample = test::sample_certificates()[0];
    sample.record.completeness = report::Completeness::incomplete;
    sample.record.end_reason = "the pump did not turn";
    auto& planned = sample.record.plan.steps;
    planned.push_back(planned.back());
    report::state(sample.record);
    const auto drawn = test::draw(sample, test::sample_words(test::source_dir()));
    REQUIRE(drawn.ok());
    std::string page;
    const auto pages = test::pdf_text(*drawn);
    for (const std::string& line : pages.at(0)) page += line + " ";
    const std::string said =
        std::to_string(planned.size() - 1) + " of " + std::to_string(planned.size()) + " steps were finished";
    CHECK(page.find(said) != std::string::npos);

    sample.record.evaluation.steps.clear();
    const auto none = test::draw(sample, test::sample_words(test::source_dir()));
    REQUIRE_FALSE(none.ok());
    CHECK(none.fault().line().find("the pump did not turn") != std::string::npos);
}

TEST_CASE("two states must be of one gauge, before and after") {
    auto samples = test::sample_certificates();
    test::SampleCertificate both;
    for (auto& sample : samples)
        if (sample.as_found) both = sample;
    both.as_found->identity.serial = "another";
    CHECK(test::draw(both, test::sample_words(test::source_dir())).fault().line().find("another") !=
          std::string::npos);
    both.as_found->identity.serial = both.record.identity.serial;
    both.as_found->state = report::State::as_left;
    CHECK_FALSE(test::draw(both, test::sample_words(test::source_dir())).ok());
}

TEST_CASE("a letter the font lacks is named, not drawn as a box") {
    auto sample = test::sample_certificates()[0];
    sample.record.customer.name = "雨量";
    auto drawn = test::draw(sample, test::sample_words(test::source_dir()));
    REQUIRE_FALSE(drawn.ok());
    CHECK(drawn.fault().line().find("U+96E8") != std::string::npos);
    CHECK(drawn.fault().line().find("U+91CF") != std::string::npos);
    sample.record.customer.name = "🌧";
    CHECK(test::draw(sample, test::sample_words(test::source_dir())).fault().line().find("U+1F327") !=
          std::string::npos);
    sample.record.customer.name =
        "\xD7\x92\xD7\xA9\xD7\x9D";  // Hebrew, in the font but not set by this program
    CHECK(test::draw(sample, test::sample_words(test::source_dir())).fault().line().find("U+05D2") !=
          std::string::npos);
}

TEST_CASE("control characters in names do no harm") {
    auto sample = test::sample_certificates()[0];
    sample.record.customer.name =
        "A\x01"
        "B\x1b[31mC\tD";
    CHECK(test::draw(sample, test::sample_words(test::source_dir())).ok());
}

TEST_CASE("fonts that are missing or no fonts are refused") {
    const auto sample = test::sample_certificates()[0];
    report::CertificateOptions options;
    options.words = test::sample_words(test::source_dir());
    options.fonts.regular = "/nonexistent/Font.ttf";
    CHECK(report::draw_certificate(sample.record, options).fault().code == FaultCode::file_missing);
    options.fonts.regular = test::source_dir() + "/templates/certificate/en.toml";
    CHECK(report::draw_certificate(sample.record, options).fault().code == FaultCode::damaged);
}

TEST_CASE("a font's table of characters that is cut or wild is no danger") {
    std::ifstream in(report::certificate::Fonts{}.regular, std::ios::binary);
    std::string bytes((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
    const auto whole = report::certificate::FontCharacters::from_bytes(bytes, "f");
    REQUIRE(whole.ok());
    CHECK(whole->has(U'A'));
    CHECK(whole->has(0x0416));
    CHECK_FALSE(whole->has(0x96E8));
    for (std::size_t keep = 0; keep < 4000; keep += 13)
        (void)report::certificate::FontCharacters::from_bytes(bytes.substr(0, keep), "f").ok();
    for (std::size_t at = 0; at < 2000; ++at) {
        std::string changed = bytes.substr(0, 40000);
        changed[at] = static_cast<char>(changed[at] ^ 0xFF);
        (void)report::certificate::FontCharacters::from_bytes(changed, "f").ok();
    }
}

namespace {

std::string bytes_of(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

// Letters made of others in DejaVu Sans (é, Ø, Ł), hints, two scripts, signs.
constexpr const char* letters_tried[] = {"AVATAR fjord 0.123", "é ß Ø ł Ł µ ± × ² –", "ΑΒΓ ωθ", "Жук",
                                         "≤ ≥ √ ∞ → ● ☐"};

std::set<char32_t> letters_of_tried() {
    std::set<char32_t> letters = report::certificate::common_letters();
    for (const char* text : letters_tried) report::certificate::add_letters(letters, text);
    return letters;
}

std::string page_of_tried(const std::set<char32_t>& letters) {
    using namespace report::certificate;
    const auto canvas = Canvas::open({}, 400, 300, letters);
    REQUIRE(canvas.ok());
    (*canvas)->add_page();
    double y = 30;
    for (const Face face : {Face::regular, Face::bold})
        for (const char* text : letters_tried) (*canvas)->text(20, y += 20, text, {face, 14, {}});
    const auto pdf = (*canvas)->finish();
    REQUIRE(pdf.ok());  // nothing was missing
    return *pdf;
}

// Of the fonts that a PDF holds, as its objects say (ISO 32000-1, table 127).
std::vector<int> font_sizes(const std::string& pdf) {
    const std::regex length("/Length1 ([0-9]+)");
    std::vector<int> out;
    for (std::sregex_iterator at(pdf.begin(), pdf.end(), length), end; at != end; ++at)
        out.push_back(std::stoi((*at)[1]));
    return out;
}

// The whole of DejaVu Sans takes 150 kB, whose tables of glyphs nobody draws libharu embeds as well.
constexpr int most_of_a_few_letters = 50'000;

}  // namespace

TEST_CASE("a font of a few letters has those of the font, to the width, and no others") {
    using namespace report::certificate;
    const std::set<char32_t> letters = letters_of_tried();
    for (const fs::path& file : {Fonts{}.regular, Fonts{}.bold}) {
        INFO(file);
        const std::string bytes = bytes_of(file);
        const std::string few = font_of_letters(bytes, letters);
        CHECK(few.size() < bytes.size() / 8);
        const auto whole = FontCharacters::from_bytes(bytes, "whole");
        const auto kept = FontCharacters::from_bytes(few, "few");
        REQUIRE(whole.ok());
        REQUIRE(kept.ok());
        for (char32_t point = 0; point <= 0xFFFF; ++point)
            if (kept->has(point) != (whole->has(point) && letters.count(point) == 1))
                FAIL_CHECK("U+" << std::hex << static_cast<unsigned>(point));
    }
    const auto all_canvas = Canvas::open({}, 595, 842);
    const auto few_canvas = Canvas::open({}, 595, 842, letters);
    REQUIRE(few_canvas.ok());
    for (const Face face : {Face::regular, Face::bold})
        for (const char* text : letters_tried) {
            INFO(text);
            const Style style{face, 9, {}};
            CHECK((*few_canvas)->text_width(text, style) == (*all_canvas)->text_width(text, style));
        }
}

TEST_CASE("letters of a font of a few are drawn as those of the whole, to the dot") {
    if (!have("pdftoppm")) {
        WARN("poppler-utils is not installed: pages not compared");
        return;
    }
    const auto picture = [](const std::string& name, const std::string& pdf) {
        return output_of("pdftoppm -r 150 '" + written(name, pdf) + "' 2>/dev/null");
    };
    const std::string all = picture("all_letters", page_of_tried({}));
    CHECK(all.substr(0, 2) == "P6");
    CHECK(picture("few_letters", page_of_tried(letters_of_tried())) == all);
}

TEST_CASE("a font that is cut or wild gives no danger, but none of a few letters or another") {
    using namespace report::certificate;
    const std::string bytes = bytes_of(Fonts{}.regular);
    const std::set<char32_t> letters = letters_of_tried();
    CHECK(font_of_letters("", letters).empty());
    CHECK(font_of_letters(bytes, {U'\u96E8'}).empty());  // rain: not in the font
    for (std::size_t keep = 0; keep < 4000; keep += 13)
        CHECK(font_of_letters(bytes.substr(0, keep), letters).empty());
    CHECK(font_of_letters(bytes.substr(0, bytes.size() / 2), letters).empty());
    for (std::size_t at = 0; at < 2000; ++at) {
        std::string changed = bytes.substr(0, 40000);
        changed[at] = static_cast<char>(changed[at] ^ 0xFF);
        (void)font_of_letters(changed, letters);
    }
    std::string changed = bytes;
    for (std::size_t at = 0; at < bytes.size(); at += 4099) {
        changed[at] = static_cast<char>(changed[at] ^ 0xFF);
        (void)font_of_letters(changed, letters);
    }
}

TEST_CASE("every certificate is written with fonts of its letters alone") {
    for (const char* language : {"en", "de", "fr", "es"})
        for (auto sample : test::sample_certificates()) {
            INFO(language << " " << sample.name);
            // Georgian, which no words file has.
            sample.record.customer.address =
                "\xE1\x83\x92\xE1\x83\x98\xE1\x83\x9D\xE1\x83\xA0\xE1\x83\x92\xE1\x83\x98";
            const auto drawn = test::draw(sample, test::sample_words(test::source_dir(), language));
            REQUIRE(drawn.ok());
            const std::vector<int> sizes = font_sizes(*drawn);
            CHECK(sizes.size() == 2);
            for (const int size : sizes) CHECK(size < most_of_a_few_letters);
        }
}

TEST_CASE("what stands nowhere in the record is drawn with the whole font") {
    auto sample = test::sample_certificates()[0];
    report::CertificateOptions options;
    options.words = test::sample_words(test::source_dir());
    options.translation = report::TranslationOf{"Ŋ"};  // a language with a name that no words file has
    const auto drawn = report::draw_certificate(sample.record, options);
    REQUIRE(drawn.ok());
    CHECK(test::joined_text(*drawn).find("Ŋ") != std::string::npos);
    const std::vector<int> sizes = font_sizes(*drawn);
    REQUIRE_FALSE(sizes.empty());
    CHECK(*std::max_element(sizes.begin(), sizes.end()) > most_of_a_few_letters);
}

TEST_CASE("a laboratory's own picture and words stand on the certificate") {
    const auto sample = test::sample_certificates()[0];
    report::CertificateOptions options;
    options.words = test::sample_words(test::source_dir());
    options.letterhead.note = "Invented accreditation 0000";
    options.letterhead.foot = "Invented registration 1111";
    // A PNG of one grey pixel.
    const unsigned char png[] = {
        0x89, 'P',  'N',  'G',  0x0D, 0x0A, 0x1A, 0x0A, 0,    0,    0,    0x0D, 'I',  'H',  'D',  'R',  0,
        0,    0,    1,    0,    0,    0,    1,    8,    0,    0,    0,    0,    0x3A, 0x7E, 0x9B, 0x55, 0,
        0,    0,    0x0A, 'I',  'D',  'A',  'T',  0x78, 0x9C, 0x63, 0x68, 0,    0,    0,    0x82, 0,    0x81,
        0x77, 0xCD, 0x72, 0xB6, 0,    0,    0,    0,    'I',  'E',  'N',  'D',  0xAE, 0x42, 0x60, 0x82};
    options.letterhead.picture.assign(reinterpret_cast<const char*>(png), sizeof png);
    options.letterhead.picture_name = "logo.png";
    const auto drawn = report::draw_certificate(sample.record, options);
    REQUIRE(drawn.ok());
    const std::string text = test::joined_text(*drawn);
    CHECK(text.find("Invented accreditation 0000") != std::string::npos);
    CHECK(text.find("Invented registration 1111") != std::string::npos);

    options.letterhead.picture = "GIF89a";
    CHECK(report::draw_certificate(sample.record, options).fault().code == FaultCode::damaged);
}

TEST_CASE("a letterhead comes from a file, and a wrong one says where") {
    const auto example =
        report::load_letterhead(test::source_dir() + "/templates/certificate/letterhead.toml");
    REQUIRE(example.ok());
    CHECK(example->note.find("Invented") != std::string::npos);
    CHECK(example->picture.empty());

    const auto fault_of = [&](const std::string& text) {
        const fs::path file = folder() / "letterhead.toml";
        std::ofstream(file, std::ios::binary) << text;
        const auto head = report::load_letterhead(file);
        REQUIRE_FALSE(head.ok());
        return head.fault();
    };
    CHECK(fault_of("note = ").code == FaultCode::syntax);
    CHECK(fault_of("\ncolour = 'red'").code == FaultCode::unknown_field);
    CHECK(fault_of("\ncolour = 'red'").where.find("letterhead.toml:2") != std::string::npos);
    CHECK(fault_of("note = 3").code == FaultCode::bad_value);
    CHECK(fault_of("picture = 'none.png'").code == FaultCode::file_missing);
    CHECK(fault_of("picture = 'letterhead.toml'").code == FaultCode::damaged);
}
