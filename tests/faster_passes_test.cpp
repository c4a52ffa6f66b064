#include <doctest/doctest.h>

#include <random>

#include "src/practice/faster_passes.h"
#include "tests/support/played_line.h"

using namespace landfall;

namespace {

// Each move breaks at a tempo of its own; 0: never.
TimedPass passAt(double tempo, const std::vector<double>& breaks) {
    TimedPass pass{tempo, {}};
    for (std::size_t move = 0; move < breaks.size(); ++move)
        if (breaks[move] > 0.0 && tempo >= breaks[move]) pass.failed.push_back(move);
    return pass;
}

}  // namespace

TEST_CASE("of the moves that fail from a tempo on, the one with the slowest is named") {
    const std::vector<double> breaks{0, 0, 96, 0, 84, 120};
    std::vector<TimedPass> passes;
    for (const double tempo : {60.0, 72.0, 80.0, 88.0, 100.0, 110.0}) passes.push_back(passAt(tempo, breaks));
    const auto first = breaksFirst(passes);
    REQUIRE(first);
    CHECK(first->move == 4);
    CHECK(first->tempo == 88.0);
    CHECK(fasterWords(shortLine(), passes) == "Faster, bar 2, beat 1 breaks first: the F4, from 88 on.");
    // In whatever order they were played.
    std::shuffle(passes.begin(), passes.end(), std::mt19937(3));
    CHECK(breaksFirst(passes)->move == 4);
}

TEST_CASE("one slip does not break a move, and a move that goes badly at any tempo is not what speed breaks") {
    std::vector<TimedPass> passes;
    for (const double tempo : {60.0, 72.0, 84.0, 96.0, 108.0}) passes.push_back(passAt(tempo, {1, 0, 0, 100}));
    passes[2].failed.push_back(1);
    CHECK(breaksFirst(passes)->move == 3);
    CHECK(breaksFirst(passes)->tempo == 108.0);
    passes.pop_back();
    CHECK_FALSE(breaksFirst(passes));
    CHECK(fasterWords(shortLine(), passes).empty());
}

TEST_CASE("few passes, or passes at one tempo, say nothing of speed") {
    CHECK_FALSE(breaksFirst({}));
    std::vector<TimedPass> passes{passAt(60.0, {70}), passAt(80.0, {70})};
    CHECK_FALSE(breaksFirst(passes));
    passes = {passAt(78.0, {79}), passAt(80.0, {79}), passAt(82.0, {79})};
    CHECK_FALSE(breaksFirst(passes));
}
