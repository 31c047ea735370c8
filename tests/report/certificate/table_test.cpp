#include "report/certificate/table.hpp"

#include <catch2/catch.hpp>

#include <algorithm>

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
