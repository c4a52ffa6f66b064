#include <doctest/doctest.h>

#include <vector>

#include "gui/changed_area.h"

using namespace landfall;

namespace {

// A small square as ImGui draws it: four corners, two triangles.
void square(Triangles& frame, float x, float y, ImU32 colour = IM_COL32_WHITE) {
    const auto base = frame.corners.size();
    for (const ImVec2 corner : {ImVec2{x, y}, ImVec2{x + 4.0f, y}, ImVec2{x + 4.0f, y + 4.0f}, ImVec2{x, y + 4.0f}})
        frame.corners.push_back({corner, {0.0f, 0.0f}, colour});
    for (const std::size_t corner : {0u, 1u, 2u, 0u, 2u, 3u})
        frame.indices.push_back(static_cast<ImDrawIdx>(base + corner));
}

void row(Triangles& frame, int count, float y) {
    for (int i = 0; i < count; ++i) square(frame, 10.0f * static_cast<float>(i), y);
}
Triangles rowOf(int count) {
    Triangles frame;
    row(frame, count, 50.0f);
    return frame;
}

bool holds(const std::vector<Box>& areas, float x, float y) {
    for (const Box& area : areas)
        if (x >= area.x && x <= area.right() && y >= area.y && y <= area.bottom()) return true;
    return false;
}

}  // namespace

TEST_CASE("two equal frames differ nowhere") {
    CHECK(changedAreas(rowOf(100), rowOf(100)).empty());
    CHECK(changedAreas({}, {}).empty());
}

TEST_CASE("what is moved is drawn anew where it was and where it is") {
    const Triangles before = rowOf(100);
    Triangles now = before;
    for (std::size_t i = 200; i < 204; ++i) now.corners[i].pos.y += 300.0f;
    const auto areas = changedAreas(before, now);
    REQUIRE(areas.size() == 1);
    CHECK(holds(areas, 502.0f, 52.0f));
    CHECK(holds(areas, 502.0f, 352.0f));
    CHECK_FALSE(holds(areas, 495.0f, 52.0f));
    CHECK_FALSE(holds(areas, 511.0f, 52.0f));
}

TEST_CASE("a triangle that keeps two of its corners is drawn anew whole") {
    const Triangles before = rowOf(100);
    Triangles now = before;
    now.corners[200].pos.x -= 1.0f;  // the square's left upper corner
    const auto areas = changedAreas(before, now);
    CHECK(holds(areas, 504.0f, 54.0f));
    CHECK(holds(areas, 499.0f, 50.0f));
}

TEST_CASE("a colour alone is a change") {
    const Triangles before = rowOf(100);
    Triangles now = before;
    now.corners[120].col = IM_COL32_BLACK;
    CHECK(holds(changedAreas(before, now), now.corners[120].pos.x, now.corners[120].pos.y));
}

TEST_CASE(
    "a trace that grows in the middle of the frame changes its end only, though all that follows has moved up in the "
    "list") {
    Triangles before = rowOf(100), now = rowOf(100);
    row(before, 50, 400.0f);
    row(now, 53, 400.0f);
    row(before, 100, 700.0f);
    row(now, 100, 700.0f);
    for (const auto& areas : {changedAreas(before, now), changedAreas(now, before)}) {
        REQUIRE(areas.size() == 1);
        CHECK(holds(areas, 501.0f, 402.0f));
        CHECK(holds(areas, 521.0f, 402.0f));
        CHECK_FALSE(holds(areas, 480.0f, 402.0f));
        CHECK_FALSE(holds(areas, 501.0f, 702.0f));
    }
}

TEST_CASE("changes far apart stay apart; too many are joined") {
    const Triangles before = rowOf(400);
    Triangles now = before;
    for (const std::size_t i : {40u, 800u}) now.corners[i].pos.y += 20.0f;
    CHECK(changedAreas(before, now).size() == 2);
    CHECK_FALSE(holds(changedAreas(before, now), 1000.0f, 52.0f));
    for (const std::size_t i : {400u, 1200u}) now.corners[i].pos.y += 20.0f;
    CHECK(changedAreas(before, now).size() == 1);
    for (const std::size_t i : {40u, 400u, 800u, 1200u})
        CHECK(holds(changedAreas(before, now), now.corners[i].pos.x, now.corners[i].pos.y));
}

TEST_CASE("a bar and a trace that change in the same frame are two areas") {
    Triangles before, now;
    square(before, 1000.0f, 20.0f);
    square(now, 1000.0f, 20.0f);
    for (const std::size_t right : {1u, 2u}) now.corners[right].pos.x += 9.0f;
    row(before, 100, 200.0f);
    row(now, 100, 200.0f);
    square(now, 300.0f, 500.0f);
    const auto areas = changedAreas(before, now);
    CHECK(areas.size() == 2);
    CHECK(holds(areas, 1010.0f, 22.0f));
    CHECK(holds(areas, 302.0f, 502.0f));
    CHECK_FALSE(holds(areas, 5.0f, 202.0f));
}
