// Where the reader's borders lie: each pair of curves stands a little on either side of one. Frames of 5 ms without
// noise, whose own deviation is 0.
#include "src/practice/gesture_reader.h"

#include <functional>
#include <numbers>

#include <doctest/doctest.h>

using namespace landfall;

namespace {

using Curve = std::function<double(double)>;

std::vector<Stretch> read(const Curve& cents, double seconds, bool struck = false, double gapFrom = 9.0,
                          double gapTo = 9.0) {
    std::vector<PitchPoint> points;
    for (double t = 0.0; t < seconds; t += 0.005)
        if (t < gapFrom || t >= gapTo) points.push_back({.time = t, .cents = cents(t)});
    return GestureReader().of(points, 0.0, struck, points.back().time, {});
}
const Stretch* stayAt(const std::vector<Stretch>& stretches, double time) {
    for (const Stretch& each : stretches)
        if (each.stays() && each.begin <= time && time < each.end) return &each;
    return nullptr;
}
bool staysAt(const Curve& cents, double time, bool struck = false) {
    return stayAt(read(cents, 2.0, struck), time) != nullptr;
}
std::size_t plateaus(const std::vector<Stretch>& stretches) {
    return static_cast<std::size_t>(
        std::count_if(stretches.begin(), stretches.end(), [](const Stretch& s) { return s.stays(); }));
}
Curve ramp(double speed) {
    return [speed](double t) { return speed * t; };
}
// From a hold of half a second on, so many cycles of so many cents.
bool shakes(double width, double rate, double cycles = 6.0, double ripple = 0.0) {
    const auto stretches = read(
        [&](double t) {
            const double since = std::min(std::max(0.0, t - 0.5), cycles / rate);
            const double turn = 2.0 * std::numbers::pi * rate * since;
            return 0.5 * width * (1.0 - std::cos(turn)) + 0.5 * ripple * std::sin(10.0 * turn);
        },
        1.0 + cycles / rate);
    return std::any_of(stretches.begin(), stretches.end(),
                       [](const Stretch& s) { return s.state == StretchState::vibrato; });
}

}  // namespace

TEST_CASE("A pitch that wavers within 12 cents is steady, one that wavers further is not") {
    const auto alternating = [](double width) {
        return [width](double t) { return std::lround(t / 0.005) % 2 == 0 ? width : 0.0; };
    };
    CHECK(staysAt(alternating(10.0), 1.0));
    CHECK_FALSE(staysAt(alternating(15.0), 1.0));
}

TEST_CASE("A struck string may fall by itself for half a second, by less than 80 cents a second") {
    CHECK(staysAt(ramp(-65.0), 0.25, true));
    CHECK_FALSE(staysAt(ramp(-100.0), 0.25, true));
    CHECK(staysAt(ramp(-60.0), 0.4, true));
    CHECK_FALSE(staysAt(ramp(-60.0), 0.6, true));
    CHECK(std::abs(read(ramp(0.0), 1.0, true)[1].begin - 0.030) < 1e-9);  // the attack before it
}

TEST_CASE("What goes on its way by 12 cents in 0.3 s drifts by less than 25 cents a second where it stops") {
    CHECK(staysAt(ramp(33.0), 0.9));  // 9.9 cents
    CHECK_FALSE(staysAt(ramp(48.0), 0.9));
    // Slowing down by 200 cents/s² to its rest at 0.75 s, it runs at 25 cents/s for the last time 0.125 s before; the
    // plateau counts from half a window of 50 ms before that.
    const auto slowing = [](double t) {
        const double left = std::max(0.0, 0.75 - t);
        return 100.0 * (0.75 * 0.75 - left * left);
    };
    const auto stretches = read(slowing, 2.0);
    const Stretch* stop = stayAt(stretches, 1.0);
    REQUIRE(stop);
    CHECK(std::abs(stop->begin - (0.75 - 0.125 - 0.025)) <= 0.02);
    // What is four times slower than it came has stopped, if not quite still.
    const auto corner = [](double after) {
        return [after](double t) { return t < 0.5 ? 0.0 : t < 0.7 ? 200.0 * (t - 0.5) : 40.0 + after * (t - 0.7); };
    };
    CHECK(staysAt(corner(30.0), 0.8));
    CHECK_FALSE(staysAt(corner(45.0), 0.8));
}

TEST_CASE("A plateau that creeps by 18 cents is another one; what its first 0.2 s had counts") {
    // At 33 cents/s the middle of the first 40 frames is 3.3 cents: left by 18 at 0.645 s, half a window before its
    // end.
    const auto stretches = read(ramp(33.0), 2.0);
    const Stretch* first = stayAt(stretches, 0.3);
    REQUIRE(first);
    CHECK(std::abs(first->end - (0.645 + 0.025)) <= 0.02);
}

TEST_CASE("Two plateaus closer than 12 cents, or with a short gap between them, are one") {
    const auto step = [](double size) { return [size](double t) { return t < 0.5 ? 0.0 : size; }; };
    CHECK(plateaus(read(step(10.0), 1.0)) == 1);
    CHECK(plateaus(read(step(14.0), 1.0)) == 2);
    // A plateau reaches half a window beyond the last frame that has three quarters of one: 25 ms of a gap do not
    // count.
    CHECK(plateaus(read(ramp(0.0), 1.0, false, 0.5, 0.59)) == 1);
    CHECK(plateaus(read(ramp(0.0), 1.0, false, 0.5, 0.64)) == 2);
}

TEST_CASE("A vibrato has at least four swings of 12 to 160 cents, each of 35 to 170 ms") {
    CHECK(shakes(40.0, 5.5));
    CHECK_FALSE(shakes(10.0, 5.5));
    CHECK(shakes(15.0, 5.5));
    CHECK(shakes(140.0, 5.5));
    CHECK_FALSE(shakes(190.0, 5.5));
    CHECK(shakes(40.0, 12.5));
    CHECK_FALSE(shakes(40.0, 18.0));
    CHECK(shakes(40.0, 3.4));
    CHECK_FALSE(shakes(40.0, 2.4));
    CHECK_FALSE(shakes(40.0, 5.5, 2.0));  // three swings
    CHECK(shakes(40.0, 5.5, 3.0));        // five
}

// At 40 Hz, on the vibrato's own slope and in frames of 5 ms, a ripple of 10 cents turns back by 6.
TEST_CASE("A turn smaller than 6 cents is noise") {
    CHECK(shakes(60.0, 4.0, 6.0, 9.0));
    CHECK_FALSE(shakes(60.0, 4.0, 6.0, 10.5));
}
