#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "src/music/chord_move.h"
#include "tests/support/heard_line.h"

using namespace landfall;

namespace {

// Eight quarters at 120, two bars.
Line quarters() {
    std::vector<LineMove> moves;
    const double pitches[] = {60, 62, 64, 65, 67, 65, 64, 59};
    for (int i = 0; i < 8; ++i) moves.push_back(move(Gesture::note, pitches[i], pitches[i], i));
    return lineOf(std::move(moves));
}

bool allLanded(const LineMarks& marks) {
    for (const LineMark& mark : marks.moves)
        if (mark.outcome != Outcome::landed) return false;
    return true;
}

}  // namespace

TEST_CASE("notes in time land where they are, with their cents and their times") {
    Heard heard;
    heard.rest(0.5);
    for (const LineMove& each : quarters().moves) heard.note(each.move.to.value + 0.07, 0.5);
    heard.rest(0.5);
    const LineMarks marks = heard.marks(quarters());
    REQUIRE(allLanded(marks));
    CHECK(marks.extra.empty());
    for (const LineMark& mark : marks.moves) {
        CHECK(mark.landingError->value == doctest::Approx(7.0).epsilon(0.01));
        CHECK(mark.onset->value == doctest::Approx(0.5 + 0.5 * static_cast<double>(mark.move)).epsilon(0.001));
        CHECK(std::abs(mark.timing->value) < 0.002);
        CHECK(mark.verdict == Verdict::inTune);
    }
    CHECK(*marks.tempo == doctest::Approx(120.0).epsilon(0.002));
}

TEST_CASE("a missed note, a wrong one, a stray one and one played twice are told by their numbers") {
    const Line line = quarters();
    Heard heard;
    heard.rest(0.5).note(60).note(64);                    // the second not at all
    heard.note(66).note(67).note(71, 0.2);                // the fourth a fret too high; a stray one
    heard.note(65).note(65).note(64).note(59).rest(0.4);  // the sixth twice
    const LineMarks marks = heard.marks(line);
    CHECK(marks.moves[3].outcome == Outcome::wrongNote);
    CHECK(marks.moves[3].heard->value == doctest::Approx(66.0).epsilon(0.001));
    CHECK(marks.moves[1].outcome == Outcome::missed);
    for (const std::size_t other : {0U, 2U, 4U, 5U, 6U, 7U}) CHECK(marks.moves[other].outcome == Outcome::landed);
    REQUIRE(marks.extra.size() == 2);
    CHECK(marks.extra[0].value == doctest::Approx(2.1).epsilon(0.01));
    // Of a note played twice the last counts.
    CHECK(marks.extra[1].value < marks.moves[5].onset->value);
}

TEST_CASE("a bar begun again counts as it was played last, and breaks the pulse without changing the tempo") {
    const Line line = quarters();
    Heard heard;
    heard.rest(0.5);
    for (const double pitch : {60.0, 62.0, 64.0, 65.0, 67.0, 65.0}) heard.note(pitch, 0.5);
    heard.rest(0.9);
    for (const double pitch : {67.0, 65.0, 64.0, 59.0}) heard.note(pitch, 0.5);
    heard.rest(0.3);
    const LineMarks marks = heard.marks(line);
    CHECK(allLanded(marks));
    CHECK(marks.extra.size() == 2);
    CHECK(marks.moves[4].onset->value > 4.3);
    CHECK(*marks.tempo == doctest::Approx(120.0).epsilon(0.01));
    for (const LineMark& mark : marks.moves) CHECK(std::abs(mark.timing->value) < 0.01);
}

TEST_CASE("bends, releases and slides go on under one stroke; what dies on the way did not land") {
    const Line line = lineOf({move(Gesture::bend, 62, 64, 0), move(Gesture::release, 64, 62, 1.5, false),
                              move(Gesture::note, 60, 60, 2), move(Gesture::slide, 60, 67, 3.5, false)});
    SUBCASE("all land") {
        Heard heard;
        heard.rest(0.5).stroke().hold(62, 0.15).way(62, 63.8, 0.2).hold(63.8, 0.4).way(63.8, 62.05, 0.15);
        heard.hold(62.05, 0.3).note(60, 0.6).way(60, 67.02, 0.12).hold(67.02, 0.5).rest(0.3);
        const LineMarks marks = heard.marks(line);
        REQUIRE(allLanded(marks));
        CHECK(marks.moves[0].landingError->value == doctest::Approx(-20.0).epsilon(0.02));
        CHECK(marks.moves[0].verdict == Verdict::near);
        CHECK(marks.moves[1].landingError->value == doctest::Approx(5.0).epsilon(0.1));
        CHECK(marks.moves[3].landingError->value == doctest::Approx(2.0).epsilon(0.1));
        // Within 8 cents of where it comes to rest.
        CHECK(std::abs(marks.moves[0].landingTime->value - 0.84) < 0.02);
        CHECK(std::abs(marks.moves[3].onset->value - 2.3) < 0.02);
        CHECK(marks.extra.empty());
    }
    SUBCASE("the slide dies") {
        Heard heard;
        heard.rest(0.5).stroke().hold(62, 0.15).way(62, 64, 0.2).hold(64, 0.4).way(64, 62, 0.15).hold(62, 0.3);
        heard.note(60, 0.6).way(60, 63.5, 0.1).rest(0.8);
        CHECK(heard.marks(line).moves[3].outcome == Outcome::died);
    }
    SUBCASE("the bend stops a half step short") {
        Heard heard;
        heard.rest(0.5).stroke().hold(62, 0.15).way(62, 63, 0.2).hold(63, 0.6).way(63, 62, 0.15).hold(62, 0.3);
        heard.note(60, 0.6).way(60, 67, 0.1).hold(67, 0.4).rest(0.3);
        const LineMarks marks = heard.marks(line);
        CHECK(marks.moves[0].outcome == Outcome::wrongNote);
        CHECK(marks.moves[0].verdict == Verdict::otherInterval);
        CHECK(marks.moves[1].outcome == Outcome::landed);
        CHECK(marks.moves[3].outcome == Outcome::landed);
    }
}

TEST_CASE("a wrong note on a stroke of its own is no slide that went wrong, and a muted stroke plays nothing") {
    const Line line = lineOf({move(Gesture::note, 67, 67, 0), move(Gesture::slide, 67, 72, 1, false),
                              move(Gesture::note, 69, 69, 2), move(Gesture::note, 64, 64, 3)});
    Heard heard;
    // The slide is damped as it leaves; then the next note two frets too high, and right.
    heard.rest(0.5).note(67, 0.5).way(67, 67.8, 0.04).rest(0.6).note(71, 0.3).rest(0.3).note(69, 0.5);
    heard.stroke(0.8).rest(0.5);
    const LineMarks marks = heard.marks(line);
    CHECK(marks.moves[0].outcome == Outcome::landed);
    CHECK(marks.moves[1].outcome == Outcome::died);
    CHECK(marks.moves[2].outcome == Outcome::landed);
    CHECK(marks.moves[3].outcome == Outcome::missed);
    CHECK_FALSE(marks.moves[3].onset);
    REQUIRE(marks.extra.size() == 1);
    CHECK(marks.extra[0].value == doctest::Approx(1.64).epsilon(0.01));
}

TEST_CASE("hammer-ons and pull-offs need no stroke, a hint and a slip come back, a vibrato has a middle") {
    const Line line = lineOf({move(Gesture::note, 62, 62, 0), move(Gesture::hammerOn, 62, 64, 0.5, false),
                              move(Gesture::pullOff, 64, 62, 1, false), move(Gesture::hint, 60, 60.4, 2),
                              move(Gesture::slip, 60, 60, 3, false), move(Gesture::vibrato, 57, 57, 4)});
    Heard heard;
    heard.rest(0.5).note(62, 0.3).hold(64, 0.3).hold(62, 0.3);
    heard.stroke().hold(60, 0.1).way(60, 60.35, 0.12).way(60.35, 60, 0.12).hold(60, 0.3);
    heard.way(60, 61, 0.06).hold(61, 0.08).way(61, 60, 0.06).hold(60, 0.3).stroke();
    for (int i = 0; i < 12; ++i) heard.way(57, 57.4, 0.08).way(57.4, 57, 0.08);
    heard.rest(0.3);
    const LineMarks marks = heard.marks(line);
    REQUIRE(allLanded(marks));
    CHECK(std::abs(marks.moves[1].onset->value - 0.8) < 0.01);
    CHECK(marks.moves[3].landingError->value == doctest::Approx(-5.0).epsilon(0.2));
    CHECK(std::abs(marks.moves[5].landingError->value - 20.0) < 1.5);
}

TEST_CASE("the pulse is the player's own, also where it drifts by a tenth or waits") {
    // By hand: quarters whose length shrinks evenly from 0.525 to 0.475 s, and a wait of 0.7 s before the ninth.
    std::vector<LineMove> moves;
    for (int i = 0; i < 16; ++i) moves.push_back(move(Gesture::note, 60 + i % 5, 60 + i % 5, i));
    const Line line = lineOf(std::move(moves));
    Heard heard;
    heard.rest(0.5);
    for (int i = 0; i < 16; ++i) {
        if (i == 8) heard.rest(0.7);
        heard.note(60 + i % 5, std::round((0.525 - 0.05 * i / 15.0) / 0.005) * 0.005);
    }
    heard.rest(0.3);
    const LineMarks marks = heard.marks(line);
    REQUIRE(allLanded(marks));
    for (const LineMark& mark : marks.moves) CHECK(std::abs(mark.timing->value) < 0.012);
    CHECK(*marks.tempo == doctest::Approx(120.0).epsilon(0.02));
}

TEST_CASE("nothing that was played is in silence, and noise of the hand is no note") {
    const Line line = quarters();
    CHECK(Heard().rest(2.0).marks(line).moves[0].outcome == Outcome::missed);
    Heard heard;
    heard.rest(0.5).stroke().rest(0.3);  // a muted stroke
    for (const LineMove& each : line.moves) heard.note(each.move.to.value);
    heard.rest(0.2).stroke().rest(0.4);
    const LineMarks marks = heard.marks(line);
    CHECK(allLanded(marks));
    CHECK(marks.extra.empty());
}

TEST_CASE("of a line of several strings those struck a twenty-fifth of a second apart are one stroke") {
    const auto strings = [](const char* asked, double beat) {
        LineMove made;
        made.move = *parseChordMove(asked);
        made.beat = beat;
        return made;
    };
    const Line line = lineOf({strings("note:D4+A4", 0), strings("note:E4+B4", 1), strings("note:F4+C5", 2)});
    const auto begins = [&](double apart) {
        Heard heard;
        heard.rest(0.5).note(62, 0.4).note(64, apart).note(71, 0.4 - apart).note(65, 0.4).rest(0.4);
        const auto onset = heard.marks(line).moves[1].onset;
        REQUIRE(onset);
        return onset->value - 0.9;
    };
    CHECK(std::abs(begins(0.035)) < 0.003);
    CHECK(std::abs(begins(0.050) - 0.050) < 0.003);
}
