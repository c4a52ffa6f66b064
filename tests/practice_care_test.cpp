#include <doctest/doctest.h>

#include <cmath>

#include "src/practice/line_care.h"

using namespace landfall;

namespace {

Drill bending(double semitones, NeckPlace place) {
    Drill drill;
    drill.name = "Bend";
    drill.steps = {{Gesture::bend, 0, semitones}};
    drill.places = {place};
    return drill;
}

Drill sliding(NeckPlace place) {
    Drill drill;
    drill.name = "Slide";
    drill.steps = {{Gesture::slide, 0, 12}};
    drill.places = {place};
    return drill;
}

}  // namespace

TEST_CASE("two-step bends, full steps over 20 N and full steps on wound strings stay off until asked for") {
    const Guitar guitar;
    CHECK_FALSE(heavyReason(bending(2, {2, 8}), guitar, {2, 8}));
    CHECK_FALSE(heavyReason(bending(1, {1, 1}), guitar, {1, 1}));  // a half step, however stiff
    CHECK(heavyReason(bending(4, {3, 9}), guitar, {3, 9})->find("two-step bend") != std::string::npos);
    CHECK(heavyReason(bending(2, {4, 7}), guitar, {4, 7})->find("wound string") != std::string::npos);
    // Grimes 2014 puts a full step on a .010 E4 at 17.6 N at fret 2; nearer the nut it is more.
    CHECK_FALSE(heavyReason(bending(2, {1, 2}), guitar, {1, 2}));
    CHECK(heavyReason(bending(2, {1, 1}), guitar, {1, 1})->find("over 20 N") != std::string::npos);
    Guitar wound = guitar;
    wound.plainStrings = 2;
    CHECK(heavyReason(bending(2, {3, 9}), wound, {3, 9}));
}

TEST_CASE("full steps end at 36 a sitting in the first month and at 60 later") {
    const Drill full = bending(2, {2, 8}), half = bending(1, {2, 8});
    SittingLoad load;
    for (int i = 0; i < 36; ++i) {
        CHECK_FALSE(sittingReason(full, Guitar{}, {2, 8}, load, true));
        addTry(load, full, Guitar{}, {2, 8});
    }
    CHECK(sittingReason(full, Guitar{}, {2, 8}, load, true)->starts_with("36 full-step bends"));
    CHECK_FALSE(sittingReason(half, Guitar{}, {2, 8}, load, true));
    for (int i = 36; i < 60; ++i) {
        CHECK_FALSE(sittingReason(full, Guitar{}, {2, 8}, load, false));
        addTry(load, full, Guitar{}, {2, 8});
    }
    CHECK(sittingReason(full, Guitar{}, {2, 8}, load, false));
}

TEST_CASE("octave slides end at twelve on each wound string, and not on plain ones") {
    SittingLoad load;
    for (int i = 0; i < 12; ++i) {
        CHECK_FALSE(sittingReason(sliding({4, 2}), Guitar{}, {4, 2}, load, true));
        addTry(load, sliding({4, 2}), Guitar{}, {4, 2});
        addTry(load, sliding({2, 3}), Guitar{}, {2, 3});
    }
    CHECK(sittingReason(sliding({4, 2}), Guitar{}, {4, 2}, load, true)->find("D string") != std::string::npos);
    CHECK_FALSE(sittingReason(sliding({5, 3}), Guitar{}, {5, 3}, load, true));
    CHECK_FALSE(sittingReason(sliding({2, 3}), Guitar{}, {2, 3}, load, true));
}

TEST_CASE("never twelve full steps running: a minute off comes before the set that would reach them") {
    Drill full = bending(2, {2, 8});
    SittingLoad load;
    CHECK(restBefore(full, load).value == 20.0);
    for (int i = 0; i < 6; ++i) addTry(load, full, Guitar{}, {2, 8});
    CHECK(restBefore(full, load).value == 60.0);
    CHECK(restBefore(bending(1, {2, 8}), load).value == 20.0);
    addRest(load, Seconds(20.0));
    CHECK(restBefore(full, load).value == 60.0);
    addRest(load, Seconds(60.0));
    CHECK(restBefore(full, load).value == 20.0);
    for (int i = 0; i < 6; ++i) addTry(load, full, Guitar{}, {2, 8});
    addTry(load, bending(1, {2, 8}), Guitar{}, {2, 8});  // an easier move breaks the run
    CHECK(restBefore(full, load).value == 20.0);
}

TEST_CASE("a minute off comes after six sets or six minutes") {
    const Drill half = bending(1, {2, 8});
    SittingLoad load;
    load.setsSinceMinuteOff = 5;
    CHECK(restBefore(half, load).value == 20.0);
    load.setsSinceMinuteOff = 6;
    CHECK(restBefore(half, load).value == 60.0);
    CHECK(minuteOffStillDue(half, load, Seconds(25.0)).value == 35.0);
    load.setsSinceMinuteOff = 0;
    load.sinceMinuteOff = Seconds(360.0);
    CHECK(restBefore(half, load).value == 60.0);
    addRest(load, Seconds(60.0));
    CHECK(load.sinceMinuteOff.value == 0.0);
    CHECK(minuteOffStillDue(half, load, Seconds(0.0)).value == 0.0);
}

TEST_CASE("a full step waits for two minutes of warm-up, a half step does not") {
    SittingLoad load;
    CHECK(warmUpDue(bending(1, {2, 8}), load).value == 0.0);
    CHECK(warmUpDue(bending(2, {2, 8}), load).value == 120.0);
    load.played = Seconds(90.0);
    CHECK(warmUpDue(bending(2, {2, 8}), load).value == 30.0);
    load.played = Seconds(500.0);
    CHECK(warmUpDue(bending(2, {2, 8}), load).value == 0.0);
}

TEST_CASE("a sitting ends at eighteen minutes") {
    SittingLoad load;
    load.played = Seconds(1079.0);
    CHECK_FALSE(sittingReason(bending(1, {2, 8}), Guitar{}, {2, 8}, load, true));
    load.played = Seconds(1080.0);
    CHECK(*sittingReason(bending(1, {2, 8}), Guitar{}, {2, 8}, load, true) == "18 minutes are enough for one sitting");
}

TEST_CASE("the cautions speak of hands, strings and hearing, and send to professionals") {
    for (const char* word : {"Hands", "Strings", "Hearing", "85 dBA", "not medical advice", "doctor", "snap"})
        CHECK_MESSAGE(cautions().find(word) != std::string_view::npos, word);
}

namespace {

LineMove bent(double from, double to, NeckPlace place, Gesture gesture = Gesture::bend) {
    LineMove made;
    made.move = {gesture, MidiPitch(from), MidiPitch(to), place, std::nullopt};
    return made;
}

// Three full steps, one of them let down again, and two notes.
Line threeFullSteps() {
    Line line;
    line.moves = {bent(67, 69, {2, 8}), bent(69, 67, {2, 8}, Gesture::release), bent(64, 64, {2, 5}, Gesture::note),
                  bent(67, 69, {2, 8}), bent(64, 64, {2, 5}, Gesture::note),    bent(67, 69, {2, 8}, Gesture::preBend)};
    return line;
}

LineMarks playedAll(const Line& line) {
    LineMarks marks;
    for (std::size_t i = 0; i < line.moves.size(); ++i) marks.moves.push_back({.move = i, .outcome = Outcome::landed});
    return marks;
}

}  // namespace

TEST_CASE("a line with three full steps counts three of them, each time it is played") {
    const Line line = threeFullSteps();
    SittingLoad warm;
    warm.played = Seconds(200.0);
    LineCare care({.guitar = {}, .load = warm}, line, Seconds(0.0));
    LineMarks marks = playedAll(line);
    care.passOver(line, marks, Seconds(5.0));
    CHECK(care.load().demanding == 3);
    marks.moves[3].outcome = Outcome::missed;
    marks.moves[0].outcome = Outcome::died;  // the hand has played it
    care.passOver(line, marks, Seconds(10.0));
    CHECK(care.load().demanding == 5);
}

TEST_CASE("no pass is begun that would go over a sitting's full steps, in the first month and later") {
    for (const bool firstMonth : {true, false}) {
        const Line line = threeFullSteps();
        SittingLoad warm;
        warm.played = Seconds(200.0);
        LineCare care({.guitar = {}, .firstMonth = firstMonth, .load = warm}, line, Seconds(0.0));
        int passes = 0;
        Seconds now;
        while (care.state().phase != LinePhase::done && passes < 99) {
            if (care.state().phase == LinePhase::playing) {
                care.passOver(line, playedAll(line), now);
                ++passes;
            }
            now = now + Seconds(1.0);
            care.tick(now);
        }
        CHECK(passes == (firstMonth ? 12 : 20));
        CHECK(care.state().message.find("full-step bends are enough") != std::string::npos);
        // What asks for no full step is still open.
        Line easy;
        easy.moves = {bent(64, 64, {2, 5}, Gesture::note)};
        care.ask(easy);
        CHECK(care.state().phase == LinePhase::playing);
    }
}

TEST_CASE("between two passes comes the minute off that is due, and it stays; a warm-up can be left") {
    const Line line = threeFullSteps();
    LineCare care({.guitar = {}}, line, Seconds(0.0));
    CHECK(care.state().phase == LinePhase::warmUp);
    CHECK(care.state().left.value == 120.0);
    care.next();
    CHECK(care.state().phase == LinePhase::playing);
    // Four bends a pass: 36 of them are six sets.
    int passes = 0;
    Seconds now;
    while (care.state().phase == LinePhase::playing && passes < 99) {
        now = now + Seconds(6.0);
        care.tick(now);
        care.passOver(line, playedAll(line), now);
        ++passes;
    }
    CHECK(passes == 9);
    CHECK(care.state().phase == LinePhase::resting);
    care.next();
    CHECK(care.state().phase == LinePhase::resting);
    CHECK(care.state().message == "This minute off is for the hand: it goes on.");
    care.tick(now + Seconds(59.0));
    CHECK(care.state().phase == LinePhase::resting);
    care.tick(now + Seconds(60.5));
    CHECK(care.state().phase == LinePhase::playing);
    CHECK(care.load().setsSinceMinuteOff == 0);
}

TEST_CASE("a line is heavy where one of its bends is, and time without a move does not count") {
    Line line = threeFullSteps();
    CHECK_FALSE(heavyReason(line, Guitar{}));
    line.moves.push_back(bent(60, 62, {4, 10}));
    CHECK(heavyReason(line, Guitar{})->find("wound string") != std::string::npos);
    Line easy;
    easy.moves = {bent(64, 64, {2, 5}, Gesture::note)};
    LineCare care({.guitar = {}}, easy, Seconds(0.0));
    for (int second = 1; second <= 300; ++second) care.tick(Seconds(second));
    CHECK(std::abs(care.load().played.value - 20.0) < 1.01);
}

TEST_CASE("of several strings every one is weighed, and all that one hand bends together") {
    const Guitar guitar;
    Drill drill = bending(1, {3, 9});
    drill.with = {{NeckPlace{4, 9}}};
    drill.steps.front().with = {{0.0, 2.0}};
    CHECK(heavyReason(drill, guitar, {3, 9})->find("wound string") != std::string::npos);
    // Each of the two is allowed alone.
    drill = bending(2, {2, 5});
    drill.with = {{NeckPlace{1, 5}}};
    CHECK_FALSE(heavyReason(drill, guitar, {2, 5}));  // the other is held
    CHECK_FALSE(heavyReason(bending(2, {1, 5}), guitar, {1, 5}));
    drill.steps.front().with = {{0.0, 2.0}};
    REQUIRE(heavyReason(drill, guitar, {2, 5}));
    CHECK(heavyReason(drill, guitar, {2, 5})->find("bending 2 strings at once takes about") != std::string::npos);
    drill.steps = {{Gesture::bend, 0, 1, 0, {{0.0, 1.0}}}};
    CHECK_FALSE(heavyReason(drill, guitar, {2, 5}));
}

TEST_CASE("bends of two strings and slides of several have limits of their own") {
    const Guitar guitar;
    Drill bends = bending(1, {3, 9});
    bends.with = {{NeckPlace{2, 10}}};
    bends.steps.front().with = {{0.0, 1.0}};
    Drill slides = sliding({3, 2});
    slides.with = {{NeckPlace{2, 3}}};
    const CareLimits limits;
    SittingLoad load;
    for (int i = 0; i < limits.doubleBends; ++i) {
        CHECK_FALSE(sittingReason(bends, guitar, {3, 9}, load, false));
        addTry(load, bends, guitar, {3, 9});
    }
    CHECK(sittingReason(bends, guitar, {3, 9}, load, false)->find("bends of two strings") != std::string::npos);
    CHECK_FALSE(sittingReason(bending(1, {3, 9}), guitar, {3, 9}, load, false));
    for (int i = 0; i < limits.chordSlides; ++i) {
        CHECK_FALSE(sittingReason(slides, guitar, {3, 2}, load, false));
        addTry(load, slides, guitar, {3, 2});
    }
    CHECK(sittingReason(slides, guitar, {3, 2}, load, false)->find("slides of several strings") != std::string::npos);
    CHECK_FALSE(sittingReason(sliding({3, 2}), guitar, {3, 2}, load, false));
}
