#include <doctest/doctest.h>

#include "src/music/drill.h"
#include "src/music/name_match.h"

using namespace landfall;

namespace {

Drill one(DrillStep step, NeckPlace place) {
    Drill drill;
    drill.name = "Try";
    drill.steps = {step};
    drill.places = {place};
    return drill;
}

}  // namespace

TEST_CASE("a bend becomes a move from the fretted note to the bent one") {
    const auto moves = movesAt(one({Gesture::bend, 0, 2}, {3, 7}), Guitar{}, {3, 7});
    REQUIRE(moves);
    REQUIRE(moves->size() == 1);
    CHECK(moves->front().from.value == 62.0);  // D4
    CHECK(moves->front().to.value == 64.0);
    CHECK(moves->front().place->fret == 7);
    CHECK_FALSE(moves->front().targetFret);
}

TEST_CASE("a half step on one fret, a full step on the next, and a release are played in one try") {
    Drill drill = one({Gesture::bend, 0, 1}, {2, 8});
    drill.steps.push_back({Gesture::bend, 0, 2, 2});
    drill.steps.push_back({Gesture::release, 2, 0, 2});
    const auto moves = movesAt(drill, Guitar{}, {2, 8});
    REQUIRE(moves);
    CHECK(moves->at(0).to.value == 68.0);
    CHECK(moves->at(1).place->fret == 10);
    CHECK(moves->at(1).to.value == 71.0);
    CHECK(moves->at(2).from.value == 71.0);
    CHECK(moves->at(2).to.value == 69.0);
    CHECK(isDemanding(drill));
}

TEST_CASE("steps and a half and two steps can be asked for") {
    CHECK(movesAt(one({Gesture::bend, 0, 3}, {3, 9}), Guitar{}, {3, 9})->front().to.value == 67.0);
    CHECK(movesAt(one({Gesture::bend, 0, 4}, {3, 9}), Guitar{}, {3, 9})->front().to.value == 68.0);
    CHECK(describeSteps(one({Gesture::bend, 0, 3}, {3, 9})) == "bend a step and a half");
    CHECK(describeSteps(one({Gesture::bend, 0, 4}, {3, 9})) == "bend two steps");
}

TEST_CASE("a slide knows its target fret, also under a capo") {
    Guitar guitar;
    guitar.capo = 2;
    const auto moves = movesAt(one({Gesture::slide, 0, 12}, {3, 2}), guitar, {3, 2});
    REQUIRE(moves);
    CHECK(*moves->front().targetFret == 14);
    CHECK(moves->front().from.value == 59.0);
    CHECK(moves->front().to.value == 71.0);
}

TEST_CASE("places that this guitar does not have are named with what to do") {
    Drill drill = one({Gesture::slide, 0, 12}, {3, 2});
    drill.places.push_back({3, 12});
    drill.places.push_back({7, 3});
    Guitar guitar;
    guitar.capo = 3;
    const FittedPlaces fitted = placesOn(drill, guitar);
    CHECK(fitted.places.size() == 1);
    REQUIRE(fitted.missing.size() == 2);
    CHECK(fitted.missing[0] ==
          "'Try' asks for string 3, fret 24: this neck ends at fret 19 above the capo on 3; choose a lower place or take the capo off");
    CHECK(fitted.missing[1] == "'Try' asks for string 7, fret 3: this guitar has 6 strings; choose another place, or set the guitar's tuning");
    CHECK_FALSE(allMoves(drill, guitar));
}

TEST_CASE("a whole drill is as many moves as places, sets, tries and steps make") {
    Drill drill = one({Gesture::bend, 0, 2}, {2, 8});
    drill.steps.push_back({Gesture::release, 2, 0});
    drill.places = {{2, 8}, {2, 10}};
    const auto moves = allMoves(drill, Guitar{});
    REQUIRE(moves);
    CHECK(moves->size() == 24);
    CHECK(moves->at(11).place->fret == 8);
    CHECK(moves->at(12).place->fret == 10);
    CHECK(totalTries(drill) == 12);
    CHECK(drillLength(drill).value == doctest::Approx(12 * 8.0 + 20.0));
}

TEST_CASE("places are told string by string") {
    Drill drill = one({Gesture::bend, 0, 1}, {2, 8});
    drill.places = {{2, 8}, {2, 9}, {3, 7}};
    CHECK(describePlaces(drill, Guitar{}) == "B string 8, 9; G string 7");
    drill.places = {{4, 2}};
    CHECK(describePlaces(drill, Guitar{}) == "D string 2");
}

TEST_CASE("names are alike whatever their case, spaces and dashes") {
    CHECK(matchKey("Half up") == matchKey(" HALF-up "));
    CHECK(matchKey("half_up") == "half-up");
    CHECK(matchKey("").empty());
    CHECK(nearestNames("hole up", {"Half up", "Whole up", "Shake"}, 1) == std::vector<std::string>{"Whole up"});
    CHECK(nearestNames("xqzvkj", {"Half up"}).empty());
}
