#include <doctest/doctest.h>

#include "src/practice/practice_care.h"

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
