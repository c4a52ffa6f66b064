// Where the borders of a line's marks lie: each pair of lines stands a little on either side of one.
#include <doctest/doctest.h>

#include <cmath>
#include <utility>
#include <vector>

#include "tests/support/heard_line.h"

using namespace landfall;

namespace {

// The last of three moves, a hint on C4, of which a test says what the pitch goes through: cents above C4 and seconds.
LineMark hinted(const std::vector<std::pair<double, double>>& ways) {
    const Line line =
        lineOf({move(Gesture::note, 64, 64, 0), move(Gesture::note, 62, 62, 1), move(Gesture::hint, 60, 60.4, 2)});
    Heard heard;
    heard.rest(0.5).note(64, 0.5).note(62, 0.5).stroke().hold(60, 0.1);
    double at = 0.0;
    for (const auto& [to, seconds] : ways) {
        heard.way(60 + 0.01 * at, 60 + 0.01 * to, seconds);
        at = to;
    }
    heard.rest(0.3);
    return heard.marks(line).moves[2];
}
double top(const std::vector<std::pair<double, double>>& ways) {
    const LineMark mark = hinted(ways);
    return mark.landingError ? 40.0 + mark.landingError->value : -1.0;
}

}  // namespace

TEST_CASE("a hint's top is the highest pitch until it has come back to three tenths of its height") {
    const auto twice = [](double back) { return top({{40, 0.1}, {back, 0.1}, {60, 0.1}, {0, 0.1}, {0, 0.1}}); };
    CHECK(std::abs(twice(10) - 40.0) < 1.0);
    CHECK(std::abs(twice(15) - 60.0) < 1.0);
}

TEST_CASE("what rises by less than 15 cents is no top yet") {
    const auto first = [](double cents) { return top({{cents, 0.08}, {0, 0.08}, {40, 0.1}, {0, 0.1}, {0, 0.1}}); };
    CHECK(std::abs(first(13) - 40.0) < 1.0);
    CHECK(std::abs(first(17) - 17.0) < 1.0);
}

TEST_CASE("a hint's top lies within 150 cents") {
    const auto past = [](double cents) {
        return top({{40, 0.1}, {cents, 0.01}, {cents, 0.02}, {40, 0.01}, {0, 0.1}, {0, 0.1}});
    };
    CHECK(std::abs(past(140) - 140.0) < 1.0);
    CHECK(past(170) < 150.0);
}

TEST_CASE("a hint of less than eight frames has no top") {
    const Line line = lineOf({move(Gesture::note, 64, 64, 0), move(Gesture::note, 62, 62, 1),
                              move(Gesture::hint, 60, 60.4, 2), move(Gesture::note, 64, 64, 3)});
    const auto told = [&](double seconds) {
        Heard heard;
        heard.rest(0.5).note(64, 0.5).note(62, 0.5).stroke().hold(60, seconds).note(64, 0.5).rest(0.3);
        return heard.marks(line).moves[2].landingError.has_value();
    };
    CHECK(told(0.05));
    CHECK_FALSE(told(0.035));
}

TEST_CASE("a hold ends 6 ms before the next stroke, whose sound is in the frames") {
    const Line line = lineOf({move(Gesture::note, 64, 64, 0), move(Gesture::note, 62, 62, 1)});
    const LineMarks marks = Heard().rest(0.5).note(64, 0.5).note(62, 0.5).rest(0.3).marks(line);
    CHECK(std::abs(marks.moves[0].holdLength->value - 0.494) < 0.0015);
}

TEST_CASE("a vibrato is read over the whole cycles that end by 0.71 s") {
    const Line line = lineOf({move(Gesture::note, 64, 64, 0), move(Gesture::vibrato, 57, 57, 1)});
    // Its middle, 20 cents up, rises by 5 cents a cycle: so many have been averaged from the first crossing on.
    const auto cycles = [&](double seconds) {
        Heard heard;
        heard.rest(0.5).note(64, 0.5).stroke();
        for (int i = 0; i < 12; ++i) {
            const double low = 57.0 + 0.05 * i;
            heard.way(low, low + 0.4, 0.5 * seconds).way(low + 0.4, low + 0.05, 0.5 * seconds);
        }
        return std::lround((heard.rest(0.3).marks(line).moves[1].landingError->value - 20.0) / 2.5) - 1;
    };
    CHECK(cycles(0.18) == 3);
    CHECK(cycles(0.16) == 4);
}

TEST_CASE("a slip whose fret above is not heard was not played, nor was a hammer-on that never came") {
    const Line slips =
        lineOf({move(Gesture::note, 62, 62, 0), move(Gesture::slip, 62, 62, 1, false), move(Gesture::note, 65, 65, 2)});
    const auto slipped = [&](double up) {
        Heard heard;
        heard.rest(0.5).note(62, 0.5).way(62, 62 + up, 0.04).hold(62 + up, 0.03).way(62 + up, 62, 0.04).hold(62, 0.4);
        return heard.note(65, 0.5).rest(0.3).marks(slips).moves[1].outcome;
    };
    CHECK(slipped(1.0) == Outcome::landed);
    CHECK(slipped(0.4) == Outcome::missed);
    CHECK(slipped(0.0) == Outcome::missed);
    const Line hammered = lineOf(
        {move(Gesture::note, 62, 62, 0), move(Gesture::hammerOn, 62, 64, 1, false), move(Gesture::note, 65, 65, 2)});
    const auto came = [&](double to) {
        Heard heard;
        heard.rest(0.5).note(62, 0.5).hold(to, 0.5).note(65, 0.5).rest(0.3);
        return heard.marks(hammered).moves[1].outcome;
    };
    CHECK(came(64) == Outcome::landed);
    CHECK(came(62) == Outcome::missed);
}

TEST_CASE("a bend that goes on has left its note where it is 4 cents off") {
    const Line line =
        lineOf({move(Gesture::note, 62, 62, 0), move(Gesture::bend, 62, 64, 1, false), move(Gesture::note, 65, 65, 2)});
    const LineMarks marks =
        Heard().rest(0.5).note(62, 0.5).way(62, 64, 0.8).hold(64, 0.5).note(65, 0.5).rest(0.3).marks(line);
    REQUIRE(marks.moves[1].onset);
    // of a raised cosine over 0.8 s after 0.072 s, to a frame
    CHECK(std::abs(marks.moves[1].onset->value - 1.072) < 0.006);
}
