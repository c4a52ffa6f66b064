#include "src/music/line.h"

#include <doctest/doctest.h>

#include <array>

#include "tests/support/played_line.h"

using namespace landfall;

TEST_CASE(
    "a part of a line has each move with all that sounds under its stroke, and those apart follow a quarter later") {
    const Line line = shortLine();  // the second move is the release of the first
    const auto part = partOf(line, std::array<std::size_t, 2>{1, 5});
    CHECK(part.moves == std::vector<std::size_t>{0, 1, 5});
    REQUIRE(part.line.moves.size() == 3);
    CHECK(part.line.moves[0].picked);
    CHECK(part.line.moves[1].beat == 1.0);
    // The release ends with its second beat; a quarter to breathe.
    CHECK(part.line.moves[2].beat == 3.0);
    CHECK(part.line.moves[2].bar == 2);
    CHECK(part.line.moves[2].count == 2.0);
    CHECK(part.line.length == 4.0);
    CHECK(part.line.title == line.title);
    CHECK(part.line.tempo == line.tempo);
}

TEST_CASE("neighbours keep their time, and a part begins where its bar's beat stands") {
    const Line line = shortLine();
    const auto part = partOf(line, std::array<std::size_t, 2>{6, 5});
    CHECK(part.moves == std::vector<std::size_t>{5, 6});
    CHECK(part.line.moves[0].beat == 0.0);
    CHECK(part.line.moves[1].beat == 1.0);
    CHECK(partOf(line, {}).line.moves.empty());
}
