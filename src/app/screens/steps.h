// What a step to the left or right makes of a value. Plain functions, any thread.
#pragma once

#include <algorithm>
#include <cmath>
#include <iterator>

namespace landfall {

// The value `by` places on from the one nearest to `now`, stopping at both ends.
template <typename Values>
double along(const Values& values, double now, int by) {
    int nearest = 0;
    for (int i = 1; i < static_cast<int>(values.size()); ++i)
        if (std::abs(values[static_cast<std::size_t>(i)] - now)
            < std::abs(values[static_cast<std::size_t>(nearest)] - now))
            nearest = i;
    return values[static_cast<std::size_t>(std::clamp(nearest + by, 0, static_cast<int>(values.size()) - 1))];
}

// The value `by` places on, in a circle; one that is not among them counts as before the first.
template <typename Values, typename Value>
Value around(const Values& values, const Value& now, int by) {
    const int count = static_cast<int>(std::size(values));
    const int at = static_cast<int>(std::find(std::begin(values), std::end(values), now) - std::begin(values));
    const int next = at == count ? (by > 0 ? 0 : count - 1) : (at + by + count) % count;
    return values[static_cast<std::size_t>(next)];
}

}  // namespace landfall
