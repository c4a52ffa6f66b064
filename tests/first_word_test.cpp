// Where the first word's borders lie: each pair stands a little on either side of one.
#include "src/practice/first_word.h"

#include <array>

#include <doctest/doctest.h>

using namespace landfall;

namespace {

// A note that holds D4, and in its last thirds of 75 ms is so far off; cents. The number of frames is none of four.
Note held(double seconds, std::array<double, 3> off = {}, double fade = 0.0) {
    Note note(1, 0.0, true);
    for (int i = static_cast<int>(seconds / 0.005); i >= 0; --i) {
        const double left = 0.005 * i;
        PitchPoint point{.time = seconds - left, .cents = 6200.0, .level = left < 0.001 ? -20.0 - fade : -20.0};
        if (left < 0.0745) point.cents += off[2 - static_cast<std::size_t>(left / 0.025)];
        note.add(point);
    }
    if (note.points().size() % 4 == 0) {
        Note longer = note.unheard();
        longer.add({.time = -0.005, .cents = 6200.0});
        for (const PitchPoint& point : note.points()) longer.add(point);
        return longer;
    }
    return note;
}
bool isFlat(const Note& note) { return firstLook(note, {}, {}).has_value(); }

bool said(double stayed, double off, double error = 0.0) {
    Landing landing;
    landing.landingError = Cents(error);
    landing.landingTime = Seconds(1.0 - stayed);
    return maySay(landing, 6200.0 - error, held(1.0, {0.0, 0.0, off}), nullptr, {}, {});
}

}  // namespace

TEST_CASE("A pitch is flat whose thirds lie within 3 cents, and the middle one is no turn") {
    CHECK(isFlat(held(1.0, {0.0, 1.2, 2.4})));
    CHECK_FALSE(isFlat(held(1.0, {0.0, 1.9, 3.8})));
    CHECK(isFlat(held(1.0, {0.0, 0.25, 0.0})));
    CHECK_FALSE(isFlat(held(1.0, {0.0, 0.4, 0.0})));
}

TEST_CASE(
    "A flat pitch needs 75 ms; where it is not flat, or the note two seconds old, it is every fourth frame and 0.16 "
    "s") {
    CHECK(firstLook(held(1.6), {}, {})->stopLeastSounding == 0.075);
    CHECK_FALSE(isFlat(held(2.5)));
    Note fourth = held(1.0, {0.0, 4.0, 8.0});
    while (fourth.points().size() % 4 != 0)
        fourth.add({.time = fourth.points().back().time + 0.005, .cents = 6208.0, .level = -20.0});
    const auto look = firstLook(fourth, {}, {});
    REQUIRE(look);
    CHECK(look->stopLeastSounding == 0.160);
}

TEST_CASE("Nothing is said of a string that has just been damped by 6 dB") {
    CHECK(isFlat(held(1.0, {}, 5.0)));
    CHECK_FALSE(isFlat(held(1.0, {}, 7.5)));
}

TEST_CASE(
    "It is said 85 ms after arrival, not of what is 45 cents off, which may still move or die, and not once the pitch "
    "has left by 5 cents") {
    CHECK(said(0.1, 0.0));
    CHECK_FALSE(said(0.07, 0.0));
    for (const double side : {-1.0, 1.0}) {
        CHECK(said(0.1, 0.0, 40.0 * side));
        CHECK_FALSE(said(0.3, 0.0, 50.0 * side));
    }
    CHECK(said(0.1, 4.0));
    CHECK_FALSE(said(0.1, 6.5));
}
