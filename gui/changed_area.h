// Where two frames differ, so that only that is drawn anew. Pure function, any thread.
#pragma once

#include <imgui.h>

#include <vector>

#include "gui/canvas.h"

namespace landfall {

// A frame's triangles in the order drawn.
struct Triangles {
    std::vector<ImDrawVert> corners;
    std::vector<ImDrawIdx> indices;  // three for each
};

// Boxes that hold every triangle of `now` and of `before` that the other does not have; empty where there is none. At
// most `most` boxes; more are joined into one.
std::vector<Box> changedAreas(const Triangles& before, const Triangles& now, std::size_t most = 3);

}  // namespace landfall
