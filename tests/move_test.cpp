#include "src/music/move.h"

#include <doctest/doctest.h>

using namespace landfall;

TEST_CASE("a move is read from gesture and two notes") {
    const auto move = parseMove("pre-bend:D4:66");
    REQUIRE(move);
    CHECK(move->gesture == Gesture::preBend);
    CHECK(move->from.value == 62.0);
    CHECK(move->to.value == 66.0);
    CHECK_FALSE(move->place);
}

TEST_CASE("a move without a gesture is a bend or a slide as it is heard") {
    const auto move = parseMove("any:D4:E4");
    REQUIRE(move);
    CHECK(move->asHeard);
    CHECK(gestureName(*move) == "any");
    CHECK(move->to.value == 64.0);
    CHECK_FALSE(parseMove("slide:D4:E4")->asHeard);
    CHECK_FALSE(parseMove("any:D4:D4"));
    CHECK_FALSE(parseGesture("any"));  // a drill says what it asks
}

TEST_CASE("a bad move says what is expected") {
    for (const char* text : {"bend", "bend:D4", "jump:D4:E4", "bend:D4:H4", "bend:D4:D4", "vibrato:D4:E4", "note:D4:E4",
                             "bend:E4:D4", "release:D4:E4"}) {
        CAPTURE(text);
        REQUIRE_FALSE(parseMove(text));
    }
}
