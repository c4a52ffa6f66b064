#include "src/review/progress.h"

#include <doctest/doctest.h>

#include "tests/support/review_students.h"

using namespace landfall;

namespace {

// Looks at a student's log each fifth day, as a teacher would, and tells whether a change was ever claimed.
struct Seen {
    bool nearer = false, wider = false;
};
Seen seenOf(unsigned seed, int days, double widenAtFirst, int changesAfter) {
    ReviewStudent student(seed);
    std::vector<ReviewedTry> tries;
    Seen seen;
    for (int day = 0; day < days; ++day) {
        student.practise(tries, day, 60, day < changesAfter ? widenAtFirst : 1.0);
        if (day % 5 != 4) continue;
        for (const Progress& each : progressOf(tries)) {
            seen.nearer = seen.nearer || each.change == Change::nearer;
            seen.wider = seen.wider || each.change == Change::wider;
        }
    }
    return seen;
}

}  // namespace

TEST_CASE(
    "of a hundred students who did not change, looked at every fifth day for four months, five at most improved") {
    int nearer = 0;
    const unsigned first = std::getenv("SEED") ? static_cast<unsigned>(std::atoi(std::getenv("SEED"))) : 1;
    for (unsigned seed = first; seed < first + 100; ++seed) nearer += seenOf(seed, 120, 1.0, 0).nearer ? 1 : 0;
    MESSAGE("told to have improved, of 100: " << nearer);
    CHECK(nearer <= 5);
}

TEST_CASE("students who came to miss half as far are found, and none of them is told the contrary") {
    int nearer = 0, wider = 0;
    for (unsigned seed = 1; seed <= 20; ++seed) {
        const Seen seen = seenOf(seed, 80, 2.0, 20);
        nearer += seen.nearer ? 1 : 0;
        wider += seen.wider ? 1 : 0;
    }
    CHECK(nearer >= 16);
    CHECK(wider <= 1);
}

TEST_CASE("before ten days there is only the count of first tries inside the aim") {
    std::vector<ReviewedTry> tries;
    for (int day = 0; day < 6; ++day)
        for (int i = 0; i < 12; ++i) {
            ReviewedTry one;
            one.day = day;
            one.counted = true;
            one.kind = {Gesture::bend, 4};
            one.error = i < 2 ? 8.0 : 40.0;
            one.inside = i < 2;
            tries.push_back(one);
        }
    tries[3].guided = true;  // what is guided is no first try
    const auto progress = progressOf(tries);
    REQUIRE(progress.size() == 1);
    CHECK(wordsOf(progress[0]) == "12 of 30 first tries inside ±25. Too early for a trend.");
    CHECK(progress[0].days.size() == 6);
    CHECK(progress[0].days[0].cold.count == 5);
    CHECK(progress[0].days[0].warm.count == 6);
}
