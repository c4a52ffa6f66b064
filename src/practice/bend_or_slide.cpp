#include "src/practice/bend_or_slide.h"

#include <algorithm>
#include <cmath>

namespace landfall {

Gesture bendOrSlide(Points points, double from, double to, const BendOrSlideConfig& config) {
    const double direction = to > from ? 1.0 : -1.0, way = std::abs(to - from);
    const int semitones = std::max(1, static_cast<int>(std::lround(way / 100.0)));
    const Gesture bent = to > from ? Gesture::bend : Gesture::release;
    if (semitones > config.widestBend) return Gesture::slide;
    if (points.size() < 4) return bent;
    for (int k = 0; k < semitones; ++k) {
        const double begin = 100.0 * k, end = k + 1 < semitones ? begin + 100.0 : way;
        const auto through = [&](double share) {
            return lastThrough(points, from + direction * (begin + share * (end - begin)), direction)
                .value_or(points.front().time);
        };
        const double crossing = through(0.8) - through(0.2);
        if (crossing > config.fretCrossed) return bent;
    }
    return Gesture::slide;
}

}  // namespace landfall
