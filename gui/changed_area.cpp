#include "gui/changed_area.h"

#include <algorithm>
#include <array>

namespace landfall {

namespace {

// Changed corners nearer to each other in the order of drawing than this belong to one area.
constexpr std::size_t apart = 64;

bool same(const ImDrawVert& a, const ImDrawVert& b) {
    return a.pos.x == b.pos.x && a.pos.y == b.pos.y && a.uv.x == b.uv.x && a.uv.y == b.uv.y && a.col == b.col;
}

struct Extent {
    float left = 0.0f, top = 0.0f, right = 0.0f, bottom = 0.0f;
    bool any = false;
    void add(float x, float y) {
        left = any ? std::min(left, x) : x;
        right = any ? std::max(right, x) : x;
        top = any ? std::min(top, y) : y;
        bottom = any ? std::max(bottom, y) : y;
        any = true;
    }
    Box box() const { return {left, top, right - left, bottom - top}; }
};

constexpr int none = -1;

// Each triangle with a changed corner counts to the area of that corner.
void add(std::vector<Extent>& areas, const Triangles& frame, const std::vector<int>& areaOf) {
    for (std::size_t i = 0; i + 2 < frame.indices.size(); i += 3) {
        const std::array<std::size_t, 3> corners{frame.indices[i], frame.indices[i + 1], frame.indices[i + 2]};
        const int area = std::max({areaOf[corners[0]], areaOf[corners[1]], areaOf[corners[2]]});
        if (area == none) continue;
        for (const std::size_t corner : corners)
            areas[static_cast<std::size_t>(area)].add(frame.corners[corner].pos.x, frame.corners[corner].pos.y);
    }
}

}  // namespace

std::vector<Box> changedAreas(const Triangles& before, const Triangles& now, std::size_t most) {
    const std::size_t sizeBefore = before.corners.size(), sizeNow = now.corners.size(),
                      shorter = std::min(sizeBefore, sizeNow);
    std::size_t first = 0, tail = 0;
    while (first < shorter && same(before.corners[first], now.corners[first])) ++first;
    while (tail < shorter - first && same(before.corners[sizeBefore - 1 - tail], now.corners[sizeNow - 1 - tail]))
        ++tail;

    // What one of the two has more stands at the end of what differs.
    std::vector<int> areaBefore(sizeBefore, none), areaNow(sizeNow, none);
    std::size_t changed = 0;
    int area = none;
    for (std::size_t i = first; i < std::max(sizeBefore, sizeNow) - tail; ++i) {
        const bool inBoth = i < shorter - tail;
        if (inBoth && same(before.corners[i], now.corners[i])) continue;
        if (area == none || i > changed + apart) ++area;
        changed = i;
        if (i < sizeBefore - tail) areaBefore[i] = area;
        if (i < sizeNow - tail) areaNow[i] = area;
    }
    std::vector<Extent> extents(static_cast<std::size_t>(area + 1));
    add(extents, before, areaBefore);
    add(extents, now, areaNow);

    std::vector<Box> boxes;
    Extent all;
    for (const Extent& extent : extents) {
        if (!extent.any) continue;
        boxes.push_back(extent.box());
        all.add(extent.left, extent.top);
        all.add(extent.right, extent.bottom);
    }
    return boxes.size() > most ? std::vector<Box>{all.box()} : boxes;
}

}  // namespace landfall
