#include "calib/rain/fullest_window.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

using tipwright::calib::FullestWindow;

TEST_CASE("fullest window: against every window tried one by one", "[rain]") {
    struct Piece {
        double from_s, until_s, mm;
    };
    std::mt19937_64 dice(8);
    for (int round = 0; round < 20; ++round) {
        // Pieces in whole seconds, some dry ones between, some jumps.
        std::vector<Piece> pieces;
        double t = 0;
        for (int i = 0; i < 400; ++i) {
            if (dice() % 5 == 0) t += static_cast<double>(dice() % 100);
            const double long_s = dice() % 7 == 0 ? 0 : static_cast<double>(1 + dice() % 30);
            pieces.push_back({t, t + long_s, 0.1 * static_cast<double>(dice() % 10)});
            t += long_s;
        }
        for (const double long_s : {20.0, 60.0, 300.0}) {
            FullestWindow window(long_s);
            FullestWindow::Window best;
            for (const Piece& piece : pieces) {
                const auto found = window.add(piece.from_s, piece.until_s, piece.mm, best.mm);
                if (found.mm > best.mm) best = found;
            }
            const auto held = [&](double from_s) {
                double mm = 0;
                for (const Piece& piece : pieces) {
                    const double a = std::max(piece.from_s, from_s);
                    const double b = std::min(piece.until_s, from_s + long_s);
                    if (piece.until_s == piece.from_s) {
                        if (piece.from_s >= from_s && piece.from_s <= from_s + long_s) mm += piece.mm;
                    } else if (b > a) {
                        mm += piece.mm * (b - a) / (piece.until_s - piece.from_s);
                    }
                }
                return mm;
            };
            double most = 0;
            for (double from_s = -long_s; from_s <= t; from_s += 0.5) most = std::max(most, held(from_s));
            INFO("round " << round << ", " << long_s << " s");
            CHECK(best.mm == Approx(most).epsilon(1e-12));
            CHECK(held(best.from_s) == Approx(best.mm).epsilon(1e-9));
        }
    }
}
