#include "src/practice/pitch_points.h"

#include "dsp/statistics.h"

namespace landfall {

Points between(Points points, double from, double to) {
    const auto begin =
        std::lower_bound(points.begin(), points.end(), from, [](const PitchPoint& p, double t) { return p.time < t; });
    const auto end =
        std::upper_bound(begin, points.end(), to, [](double t, const PitchPoint& p) { return t < p.time; });
    return points.subspan(static_cast<std::size_t>(begin - points.begin()), static_cast<std::size_t>(end - begin));
}

double medianOf(Points points) {
    std::vector<double> cents;
    cents.reserve(points.size());
    for (const PitchPoint& point : points) cents.push_back(point.cents);
    return median(std::move(cents));
}

std::optional<double> medianCents(Points points, double from, double to, std::size_t least) {
    const Points inside = between(points, from, to);
    if (inside.size() < std::max<std::size_t>(least, 1)) return std::nullopt;
    return medianOf(inside);
}

Trend trendOf(Points points, double PitchPoint::*value) {
    double n = 0.0, time = 0.0, sum = 0.0, tt = 0.0, tv = 0.0;
    for (const PitchPoint& p : points) n += 1.0, time += p.time, sum += p.*value;
    time /= n, sum /= n;
    for (const PitchPoint& p : points)
        tt += (p.time - time) * (p.time - time), tv += (p.time - time) * (p.*value - sum);
    return {tt > 0.0 ? tv / tt : 0.0, tt};
}

std::optional<double> lastThrough(Points points, double level, double way) {
    for (std::size_t i = points.size(); i-- > 1;) {
        const double there = way * (points[i - 1].cents - level), here = way * (points[i].cents - level);
        if (there < 0.0 && here >= 0.0)
            return points[i - 1].time - there / (here - there) * (points[i].time - points[i - 1].time);
    }
    return std::nullopt;
}

double MedianOfRun::of(Points points, std::size_t begin, std::size_t end) {
    if (begin != first) {
        first = last = begin;
        sorted.clear();
    }
    for (; last < end; ++last) {
        const double cents = points[last].cents;
        sorted.insert(std::upper_bound(sorted.begin(), sorted.end(), cents), cents);
    }
    while (last > end) sorted.erase(std::lower_bound(sorted.begin(), sorted.end(), points[--last].cents));
    const std::size_t middle = sorted.size() / 2;
    return sorted.size() % 2 == 1 ? sorted[middle] : 0.5 * (sorted[middle] + sorted[middle - 1]);
}

}  // namespace landfall
