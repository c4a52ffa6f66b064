// Statistics of a handful of values.
#pragma once

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace landfall {

// The middle value, of an even number the mean of the two in the middle. Precondition: not empty.
inline double median(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) return *middle;
    return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

// The middle distance from a value. Precondition: not empty.
inline double medianDeviation(std::vector<double> values, double from = 0.0) {
    for (double& value : values) value = std::abs(value - from);
    return median(std::move(values));
}

}  // namespace landfall
