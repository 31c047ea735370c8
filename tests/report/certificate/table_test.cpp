#include "report/certificate/table.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <random>

#include "report/certificate/text_block.hpp"
#include "tests/report/pdf_text.hpp"

using namespace tipwright::report::certificate;

// After the heading and 8 rows or more, wherever the page ends: the page a table ends on holds two of its
// rows.
TEST_CASE("the last row of a table never stands alone on a page") {
    bool torn = false;
    for (int filled_mm = 0; filled_mm < 12; ++filled_mm) {
        for (std::size_t rows = 50; rows < 60; ++rows) {
            auto canvas = Canvas::open({}, 210 * mm, 297 * mm);
            REQUIRE(canvas);
            Flow flow(**canvas);
            flow.space(filled_mm * mm);
            Table table;
            table.columns = {{"Step"}, {"Tips"}};
            table.rows.assign(rows, {{"1", "2"}});
            draw_table(flow, table, '.');
            const double used = flow.y() - flow.top();
            Flow measured(**canvas);
            Table two = table;
            two.rows.resize(2);
            draw_table(measured, two, '.');
            INFO(filled_mm << " mm, " << rows << " rows");
            CHECK(used >= measured.y() - measured.top() - 2.5);
            torn |= (*canvas)->page_count() > 2;
        }
    }
    CHECK(torn);
}

TEST_CASE("a group that a page's end parts is named again on the next page") {
    for (const bool groups : {true, false}) {
        auto canvas = Canvas::open({}, 210 * mm, 297 * mm);
        REQUIRE(canvas);
        Flow flow(**canvas);
        Table table;
        table.groups = groups;
        table.columns = {{"Kind"}, {"Number"}};
        for (int row = 1; row <= 70; ++row)
            table.rows.push_back({{row % 35 == 1 ? "kind " + std::to_string(row) : "", std::to_string(row)}});
        draw_table(flow, table, '.');
        const auto bytes = (*canvas)->finish();
        REQUIRE(bytes);
        const auto pages = tipwright::test::pdf_text(*bytes);
        REQUIRE(pages.size() == 2);
        const auto again = std::count_if(pages[1].begin(), pages[1].end(), [](const std::string& line) {
            return line.find("kind 36") != std::string::npos;
        });
        INFO(pages[1].front());
        CHECK(again == (groups ? 1 : 0));
    }
}

namespace {

std::string some_words(std::mt19937& dice, int most) {
    static const char* const words[] = {
        "a",       "balance",      "20 mm/h",       "of", "INV-K-0001", "traceable",
        "k = 2.1", "thermometer,", "micro-seconds", "\n"};
    std::string out;
    for (int n = static_cast<int>(dice() % static_cast<unsigned>(most)) + 1; n > 0; --n)
        out += words[dice() % std::size(words)] + std::string(n > 1 ? " " : "");
    return out;
}

double height_of(Canvas& canvas, Table table, bool low) {
    Flow flow(canvas);
    table.low = low;
    draw_table(flow, table, '.');
    return flow.y() - flow.top() + 1000 * (flow.pages() - 1);
}

}  // namespace

TEST_CASE("as many lines as are counted without setting a text are set") {
    auto canvas = Canvas::open({}, 210 * mm, 297 * mm);
    REQUIRE(canvas);
    std::mt19937 dice(5);
    for (int round = 0; round < 400; ++round) {
        const std::string text = some_words(dice, 30);
        const double width = widest_piece(**canvas, text, small_style) + 0.7 * (dice() % 300);
        const Wrapping wrapping(**canvas, text, small_style);
        const std::size_t lines = wrap(**canvas, text, small_style, width).size();
        INFO(text << " in " << width);
        CHECK(wrapping.lines(width) == lines);
        const double least = wrapping.least_width(lines);
        CHECK(least <= width + 0.1);
        CHECK(wrapping.lines(least) <= lines);
    }
}

// Any other division of the width is a rival; the one by weights is at hand.
TEST_CASE("a table that wants to be low is not higher than by the weights of its columns") {
    auto canvas = Canvas::open({}, 210 * mm, 297 * mm);
    REQUIRE(canvas);
    (*canvas)->measure_only(true);
    std::mt19937 dice(6);
    double saved = 0;
    for (int round = 0; round < 100; ++round) {
        Table table;
        for (int c = 0; c < 5; ++c)
            table.columns.push_back({some_words(dice, 2), 0.5 + 0.1 * (dice() % 20), Align::left});
        for (int r = 0; r < 6; ++r) {
            TableRow row;
            for (int c = 0; c < 5; ++c) row.cells.push_back(some_words(dice, 3 + 5 * c));
            table.rows.push_back(row);
        }
        const double by_weights = height_of(**canvas, table, false);
        const double low = height_of(**canvas, table, true);
        INFO("round " << round);
        CHECK(low <= by_weights + 0.01);
        saved += by_weights - low;
    }
    CHECK(saved > 1000);
}
