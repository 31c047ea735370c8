// What tests of the page show: a text from outside, the words of all languages, a curve.
#pragma once

#include <catch2/catch.hpp>

#include "bench/page/views/page_words.hpp"
#include "report/register/kept_curve.hpp"
#include "tests/support/paths.hpp"

namespace tipwright::page::samples {

inline const std::string hostile = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>&";

inline const std::vector<PageWords>& languages() {
    static const std::vector<PageWords> words = [] {
        auto loaded = load_page_words(std::filesystem::path(tipwright::test::source_dir()) / "templates");
        if (!loaded) FAIL(loaded.fault().line());
        return *loaded;
    }();
    return words;
}

inline report::KeptCurve curve(double shift) {
    return {{10, shift + 1, 0.3}, {50, shift, 0.2}, {200, shift - 2, 0.4}};
}

}  // namespace tipwright::page::samples
