#include "src/practice/bend_or_slide.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

// When the pitch last rose through `level`, cents on its way; the first point's time where it never did.
double lastThrough(std::span<const PitchPoint> points, double from, double direction, double level) {
    for (std::size_t i = points.size(); i-- > 1;) {
        const double there = direction * (points[i - 1].cents - from), here = direction * (points[i].cents - from);
        if (there < level && here >= level)
            return points[i - 1].time + (level - there) / (here - there) * (points[i].time - points[i - 1].time);
    }
    return points.front().time;
}

}  // namespace

Gesture bendOrSlide(std::span<const PitchPoint> points, double from, double to, const BendOrSlideConfig& config) {
    const double direction = to > from ? 1.0 : -1.0, way = std::abs(to - from);
    const int semitones = std::max(1, static_cast<int>(std::lround(way / 100.0)));
    const Gesture bent = to > from ? Gesture::bend : Gesture::release;
    if (semitones > config.widestBend) return Gesture::slide;
    if (points.size() < 4) return bent;
    for (int k = 0; k < semitones; ++k) {
        const double begin = 100.0 * k, end = k + 1 < semitones ? begin + 100.0 : way;
        const double crossing = lastThrough(points, from, direction, begin + 0.8 * (end - begin))
                                - lastThrough(points, from, direction, begin + 0.2 * (end - begin));
        if (crossing > config.fretCrossed) return bent;
    }
    return Gesture::slide;
}

}  // namespace landfall
