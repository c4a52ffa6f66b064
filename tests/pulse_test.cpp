// Where the borders of a line's pulse lie: quarters at known times, a little on either side of each.
#include "src/practice/pulse.h"

#include <cmath>
#include <functional>
#include <vector>

#include <doctest/doctest.h>

using namespace landfall;

namespace {

// So many quarters, each at the time that a test says.
LineMarks timed(int quarters, const std::function<double(int)>& at) {
    Line line;
    line.length = quarters;
    LineMarks marks;
    for (int i = 0; i < quarters; ++i) {
        LineMove move;
        move.beat = i;
        line.moves.push_back(move);
        LineMark mark{.move = static_cast<std::size_t>(i)};
        mark.outcome = Outcome::landed;
        mark.onset = Seconds(at(i));
        marks.moves.push_back(mark);
    }
    timeAgainstPulse(line, marks);
    return marks;
}

double timing(const LineMarks& marks, std::size_t i) { return marks.moves[i].timing->value; }

// The furthest that any of sixteen quarters is off the pulse where the ninth comes late, and all after it.
double furthest(double period, double late) {
    const LineMarks marks = timed(16, [=](int i) { return 1.0 + period * i + (i >= 8 ? late : 0.0); });
    double most = 0.0;
    for (const LineMark& mark : marks.moves) most = std::max(most, std::abs(mark.timing->value));
    return most;
}

}  // namespace

TEST_CASE("four moves make a pulse") {
    const auto even = [](int i) { return 0.5 * i; };
    CHECK_FALSE(timed(3, even).tempo);
    REQUIRE(timed(4, even).tempo);
    CHECK(*timed(4, even).tempo == doctest::Approx(120.0));
}

TEST_CASE("a wait of a quarter of a beat and 0.12 s is a break, and puts nothing after it off the pulse") {
    CHECK(furthest(1.0, 0.30) < 0.003);
    CHECK(furthest(1.0, 0.20) > 0.02);
    CHECK(furthest(0.3, 0.14) < 0.003);
    CHECK(furthest(0.3, 0.10) > 0.02);
}

TEST_CASE(
    "a note that comes far off moves the pulse hardly more than one that is off by two hands' unevenness, 0.05 s") {
    const auto moved = [](double late) {
        return timing(timed(16, [late](int i) { return 0.5 * i + (i == 7 ? late : 0.0); }), 6);
    };
    CHECK(moved(0.05) < -0.004);
    CHECK(moved(0.11) / moved(0.05) < 1.3);
}

// Of four quarters' times only 1, -1, -1, 1 (halved, so that its square is one) is neither a beginning nor a tempo. A
// drift of 1 s is .5 of it. So its information is .5² / .025² = 400, that of the prior 1 / (.06 * .5)² = 1111: of a
// drift of 40 ms three quarters are left over, and a quarter of that (half of a half) stands in each time.
TEST_CASE("a drift that four notes show is believed by a quarter") {
    const LineMarks marks = timed(4, [](int i) { return 0.5 * i + 0.04 * i * (i - 4.0) / 4.0; });
    const double left = 0.04 * 1111.0 / (1111.0 + 400.0) / 4.0;
    CHECK(std::abs(timing(marks, 0) - left) < 0.0005);
    CHECK(std::abs(timing(marks, 1) + left) < 0.0005);
}
