#include "report/certificate/table.hpp"

#include <catch2/catch.hpp>

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
