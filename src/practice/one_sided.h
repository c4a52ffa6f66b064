// Whether several errors lie mostly to one side. Plain function, any thread.
#pragma once

#include <cmath>

namespace landfall {

// `typical`: the errors' median, `miss`: the median of their sizes, in cents. All to one side they are the same; where
// as many are high as low the first is near zero, or half way between the two sides.
inline bool isOneSided(double typical, double miss) { return std::abs(typical) >= 0.75 * miss; }

}  // namespace landfall
