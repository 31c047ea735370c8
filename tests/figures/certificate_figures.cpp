// Time from a record of ten steps to the bytes of its certificate, beside that of loading and embedding both
// fonts, all their letters, on an empty page. The best of many repeats, because
// other programs may share the machine.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <vector>

#include "report/certificate/canvas.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

constexpr int repeats = 25;
constexpr double limit_ms = 20;
constexpr double limit_over_fonts = 1.3;

template <class Work>
double best_ms(Work work) {
    std::vector<double> times;
    for (int i = 0; i < repeats; ++i) {
        const auto begin = std::chrono::steady_clock::now();
        work();
        times.push_back(
            std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begin).count());
    }
    return *std::min_element(times.begin(), times.end());
}

}  // namespace

int main() {
    test::SampleOptions wish;
    wish.intensities_mm_h = {6, 15, 30, 50, 75, 100, 130, 170, 200, 254};
    test::SampleCertificate sample{"ten_steps", test::sample_record(wish), {}, {}};
    const auto words = test::sample_words(tipwright::test::source_dir());
    bool drawn = true;
    const double fonts_ms = best_ms([&] {
        auto canvas = report::certificate::Canvas::open({}, 595, 842);
        (*canvas)->add_page();
        (*canvas)->text(50, 50, "x", {});
        (*canvas)->text(50, 70, "x", {report::certificate::Face::bold, 9, {}});
        drawn = drawn && (*canvas)->finish().ok();
    });
    const double certificate_ms = best_ms([&] { drawn = drawn && test::draw(sample, words).ok(); });
    if (!drawn) {
        std::fprintf(stderr, "the certificate could not be drawn\n");
        return 1;
    }
    std::printf("figure certificate_ms %.1f ms limit <= %.0f %s\n", certificate_ms, limit_ms,
                certificate_ms <= limit_ms ? "ok" : "short");
    std::printf("reference certificate_fonts_alone_ms %.1f ms\n", fonts_ms);
    const double ratio = certificate_ms / fonts_ms;
    std::printf("figure certificate_over_fonts %.2f 1 limit <= %.1f %s\n", ratio, limit_over_fonts,
                ratio <= limit_over_fonts ? "ok" : "short");
    return 0;
}
