#include "src/review/bias_map.h"

#include <random>

#include <doctest/doctest.h>

#include "tests/support/review_students.h"

using namespace landfall;

namespace {

struct Score {
    double squares = 0.0, rawSquares = 0.0, held = 0.0, doubts = 0.0, cells = 0.0;
    double rmse() const { return std::sqrt(squares / cells); }
    double raw() const { return std::sqrt(rawSquares / cells); }
    double coverage() const { return held / cells; }
};

// Of every played place of some students after so many tries. `faults`: so many times the usual ones; `rough`: each
// place's own, drawn by itself, with 9 cents RMS.
Score scoreAfter(int tries, unsigned firstSeed, int students, double faults = 1.0, bool rough = false) {
    Score score;
    for (unsigned seed = firstSeed; seed < firstSeed + static_cast<unsigned>(students); ++seed) {
        ReviewStudent student(seed);
        std::vector<ReviewedTry> played;
        std::mt19937 random(seed);
        std::normal_distribution<double> alone(0.0, 9.0);
        for (auto& place : student.places) place.bias = rough ? alone(random) : place.bias * faults;
        for (int day = 0; static_cast<int>(played.size()) < tries; ++day) student.practise(played, day, 30);
        const BiasMap map = biasMapOf(played, Guitar{});
        for (const MapCell& cell : map.cells)
            for (const auto& place : student.places) {
                if (place.kind != cell.kind || !(place.at == cell.place)) continue;
                double sum = 0.0;
                for (const ReviewedTry& one : played)
                    if (one.kind == cell.kind && *one.place == cell.place) sum += *one.error;
                score.squares += (cell.bias - place.bias) * (cell.bias - place.bias);
                score.rawSquares += (sum / cell.tries - place.bias) * (sum / cell.tries - place.bias);
                score.held += std::abs(cell.bias - place.bias) <= cell.doubt ? 1.0 : 0.0;
                score.doubts += cell.doubt;
                ++score.cells;
            }
    }
    return score;
}

}  // namespace

TEST_CASE("the map is nearer to the truth than each place's own mean, and its doubt is honest") {
    for (const int tries : {60, 300}) {
        const Score score = scoreAfter(tries, 1000, 40);
        MESSAGE(tries << " tries: RMSE " << score.rmse() << ", raw means " << score.raw() << ", 90 % intervals hold "
                      << score.coverage());
        CHECK(score.rmse() < 0.85 * score.raw());
        CHECK(score.coverage() > 0.87);
        CHECK(score.coverage() < 0.97);
    }
}

TEST_CASE("whose faults are small is known more surely, and whose are large less") {
    const Score small = scoreAfter(300, 1100, 20, 0.25), usual = scoreAfter(300, 1100, 20),
                large = scoreAfter(300, 1100, 20, 2.0);
    MESSAGE("doubt " << small.doubts / small.cells << ", " << usual.doubts / usual.cells << ", "
                     << large.doubts / large.cells << "; held " << small.coverage() << ", " << usual.coverage() << ", "
                     << large.coverage());
    CHECK(small.doubts / small.cells < 0.9 * usual.doubts / usual.cells);
    CHECK(large.doubts / large.cells > 1.08 * usual.doubts / usual.cells);
    for (const Score& score : {small, usual, large}) CHECK(score.coverage() > 0.84);
    CHECK(usual.coverage() < 0.95);
}

TEST_CASE("where places have nothing in common the map says how little it knows") {
    for (const int tries : {60, 300}) {
        const Score score = scoreAfter(tries, 1200, 40, 1.0, true);
        MESSAGE(tries << " tries: RMSE " << score.rmse() << ", raw means " << score.raw() << ", 90 % intervals hold "
                      << score.coverage());
        CHECK(score.rmse() < score.raw());
        CHECK(score.coverage() > 0.82);
    }
}

TEST_CASE("without tries there is no map, and what is struck, guided or has no place is not in it") {
    CHECK(biasMapOf({}, Guitar{}).cells.empty());
    ReviewStudent student(3);
    std::vector<ReviewedTry> played;
    student.practise(played, 0, 30);
    const std::size_t all = biasMapOf(played, Guitar{}).cells.size();
    std::vector<ReviewedTry> odd = played;
    for (ReviewedTry& one : odd) one.guided = true;
    odd[0].guided = false;
    CHECK(biasMapOf(odd, Guitar{}).cells.size() == 1);
    odd[0].counted = false;
    CHECK(biasMapOf(odd, Guitar{}).cells.empty());
    odd[0].counted = true;
    odd[0].place.reset();
    CHECK(biasMapOf(odd, Guitar{}).tries == 0);
    CHECK(all >= 3);
}

TEST_CASE("only the latest tries count where there are more than are wanted") {
    std::vector<ReviewedTry> tries;
    for (int i = 0; i < 400; ++i) {
        ReviewedTry one;
        one.counted = true;
        one.day = i / 40;
        one.ofDay = 30;
        one.place = NeckPlace{2, 8};
        one.kind = {Gesture::bend, 2};
        one.error = i < 200 ? -40.0 : 10.0 + (i % 5 - 2);
        tries.push_back(one);
    }
    const BiasMap map = biasMapOf(tries, Guitar{}, {.most = 200});
    REQUIRE(map.cells.size() == 1);
    CHECK(map.cells[0].tries == 200);
    CHECK(map.cells[0].bias > 7.0);
    CHECK(map.cells[0].days == 5);
}
