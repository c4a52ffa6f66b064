#include "src/practice/gesture_reader.h"

#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"

namespace landfall {

namespace {

using Points = std::span<const PitchPoint>;

double medianOf(Points points) {
    std::vector<double> cents;
    cents.reserve(points.size());
    for (const PitchPoint& point : points) cents.push_back(point.cents);
    return median(std::move(cents));
}

Points between(Points points, double from, double to) {
    const auto begin =
        std::lower_bound(points.begin(), points.end(), from, [](const PitchPoint& p, double t) { return p.time < t; });
    const auto end =
        std::upper_bound(begin, points.end(), to, [](double t, const PitchPoint& p) { return t < p.time; });
    return points.subspan(static_cast<std::size_t>(begin - points.begin()), static_cast<std::size_t>(end - begin));
}

// Whether the pitch is steady around each point; until `glides` it may fall as a struck string does by itself.
std::vector<bool> steadyPoints(Points points, double glides, const GestureReaderConfig& config) {
    std::vector<bool> steady(points.size(), false);
    const double half = config.steadyWindow / 2.0;
    std::size_t first = 0, end = 0, before = 0;
    for (std::size_t i = 0; i < points.size(); ++i) {
        while (points[before].time < points[i].time - config.approachWithin) ++before;
        while (points[first].time < points[i].time - half) ++first;
        while (end < points.size() && points[end].time <= points[i].time + half) ++end;
        const Points window = points.subspan(first, end - first);
        if (window.size() < 4 || window.back().time - window.front().time < 0.7 * config.steadyWindow) continue;
        double low = window[0].cents, high = low, meanTime = 0.0, meanCents = 0.0, sd = 0.0;
        for (const PitchPoint& p : window) {
            low = std::min(low, p.cents);
            high = std::max(high, p.cents);
            meanTime += p.time;
            meanCents += p.cents;
            sd += p.sd;
        }
        const double n = static_cast<double>(window.size());
        meanTime /= n, meanCents /= n, sd /= n;
        double tt = 0.0, tc = 0.0;
        for (const PitchPoint& p : window) {
            tt += (p.time - meanTime) * (p.time - meanTime);
            tc += (p.time - meanTime) * (p.cents - meanCents);
        }
        // What the frames' own noise adds to the range of ten of them (about 3 sd) and to the slope.
        const double noise = std::min(sd, 8.0);
        const double slope = tc / tt, came = points[i].cents - points[before].cents;
        const bool evenly =
            slope * came > 0.0 && std::abs(came) < config.approachUneven * config.approachWithin * std::abs(slope);
        const bool goesOn =
            evenly && std::abs(came) >= config.approachLeast && (slope > 0.0 || points[i].time >= glides);
        const double most = goesOn ? config.approachSlope : config.steadySlope;
        steady[i] =
            high - low <= config.steadyRange + 3.0 * noise && std::abs(slope) <= most + 2.0 * noise / std::sqrt(tt);
    }
    return steady;
}

struct Turn {
    double time, cents;
};

// Turning points of the pitch, where it turns back by more than `least` cents; the last one may still move on.
std::vector<Turn> turningPoints(Points points, double least) {
    std::vector<Turn> turns;
    const auto turn = [&](std::size_t i) { turns.push_back({points[i].time, points[i].cents}); };
    std::size_t low = 0, high = 0;
    int direction = 0;  // 0 until the first turn
    for (std::size_t i = 1; i < points.size(); ++i) {
        const double c = points[i].cents, margin = least + 2.0 * std::min(points[i].sd, 8.0);
        if (direction >= 0 && c > points[high].cents) high = i;
        if (direction <= 0 && c < points[low].cents) low = i;
        if (direction >= 0 && points[high].cents - c > margin) {
            turn(high);
            direction = -1;
            low = i;
        } else if (direction <= 0 && c - points[low].cents > margin) {
            turn(low);
            direction = 1;
            high = i;
        }
    }
    if (direction > 0) turn(high);
    if (direction < 0) turn(low);
    return turns;
}

bool isSwing(const Turn& a, const Turn& b, const GestureReaderConfig& config) {
    const double size = std::abs(b.cents - a.cents), half = b.time - a.time;
    return size >= config.swingLeast && size <= config.swingMost && half >= config.halfCycleLeast
           && half <= config.halfCycleMost;
}

// Neighbouring half cycles of a vibrato are alike in length and size, and do not run away.
bool alike(const Turn& a, const Turn& b, const Turn& c) {
    const double first = std::abs(b.cents - a.cents), second = std::abs(c.cents - b.cents);
    const double lengths = (b.time - a.time) / (c.time - b.time), sizes = first / second;
    return lengths > 0.4 && lengths < 2.5 && sizes > 0.4 && sizes < 2.5;
}

// The pitch's mean over whole cycles: frames are evenly spaced, so a mean over time is a mean over frames.
double cycleMean(Points points, double from, double to) {
    const Points inside = between(points, from, to);
    double sum = 0.0;
    for (const PitchPoint& p : inside) sum += p.cents;
    return inside.empty() ? 0.0 : sum / static_cast<double>(inside.size());
}

std::vector<Stretch> vibratos(Points points, const GestureReaderConfig& config) {
    std::vector<Stretch> found;
    const std::vector<Turn> turns = turningPoints(points, config.turningPoint);
    for (std::size_t i = 0; i + 1 < turns.size();) {
        std::size_t last = i;
        while (last + 1 < turns.size() && isSwing(turns[last], turns[last + 1], config)
               && (last == i || alike(turns[last - 1], turns[last], turns[last + 1])))
            ++last;
        if (static_cast<int>(last - i) < config.swingsLeast) {
            ++i;
            continue;
        }
        Stretch vibrato;
        vibrato.state = StretchState::vibrato;
        std::vector<double> halves, tops, bottoms;
        for (std::size_t k = i; k < last; ++k) halves.push_back(turns[k + 1].time - turns[k].time);
        for (std::size_t k = i; k <= last; ++k) {
            const std::size_t other = k == last ? k - 1 : k + 1;
            (turns[k].cents > turns[other].cents ? tops : bottoms).push_back(turns[k].cents);
        }
        const double half = median(halves);
        std::vector<double> deviations;
        for (const double h : halves) deviations.push_back(std::abs(h - half));
        const std::size_t cycles = (last - i) / 2;
        vibrato.rate = static_cast<double>(cycles) / (turns[i + 2 * cycles].time - turns[i].time);
        vibrato.evenness = std::max(0.0, 1.0 - median(deviations) / half);
        vibrato.bottom = median(bottoms);
        vibrato.top = median(tops);
        vibrato.level = cycleMean(points, turns[i].time, turns[i + 2 * cycles].time);
        // The first turn is half a cycle after the pitch left its place, the last one at most half a cycle before it is
        // back.
        vibrato.begin = std::max(points.front().time, turns[i].time - half);
        vibrato.end = std::min(points.back().time, turns[last].time + half);
        while (vibrato.begin < turns[i].time) {  // not into the rise that led here
            const Points before = between(points, vibrato.begin, turns[i].time);
            const auto outside = std::find_if(before.rbegin(), before.rend(), [&](const PitchPoint& p) {
                return p.cents < vibrato.bottom - config.steadyRange || p.cents > vibrato.top + config.steadyRange;
            });
            if (outside == before.rend()) break;
            vibrato.begin = std::min(outside->time + 1e-4, turns[i].time);
            break;
        }
        found.push_back(vibrato);
        i = last;
    }
    return found;
}

std::vector<Stretch> plateaus(Points points, double from, double glides, const GestureReaderConfig& config) {
    std::vector<Stretch> found;
    const std::vector<bool> steady = steadyPoints(points, glides, config);
    const double half = config.steadyWindow / 2.0;
    for (std::size_t i = 0; i < points.size(); ++i) {
        if (!steady[i] || points[i].time < from) continue;
        std::size_t last = i;
        while (last + 1 < points.size() && steady[last + 1]
               && points[last + 1].time - points[last].time < config.mergeGap
               && std::abs(points[last + 1].cents
                           - medianOf(Points(points).subspan(i, std::min<std::size_t>(last + 1 - i, 40))))
                      <= config.plateauDrift)
            ++last;
        Stretch plateau;
        plateau.state = StretchState::plateau;
        plateau.begin = std::max(from, points[i].time - half);
        plateau.end = std::min(points.back().time, points[last].time + half);
        if (!found.empty()) plateau.begin = std::max(plateau.begin, found.back().end);
        plateau.level = medianOf(Points(points).subspan(i, last - i + 1));
        if (!found.empty() && std::abs(plateau.level - found.back().level) < config.mergeLevels
            && plateau.begin - found.back().end < config.mergeGap) {
            Stretch& before = found.back();
            before.end = plateau.end;
            before.level = medianOf(between(points, before.begin, before.end));
        } else {
            found.push_back(plateau);
        }
        i = last;
    }
    return found;
}

}  // namespace

std::optional<double> medianCents(std::span<const PitchPoint> points, double from, double to, std::size_t least) {
    const Points inside = between(points, from, to);
    if (inside.size() < std::max<std::size_t>(least, 1)) return std::nullopt;
    return medianOf(inside);
}

std::vector<Stretch> readStretches(const Note& note, const GestureReaderConfig& config) {
    const Points points(note.points);
    std::vector<Stretch> stays;
    if (points.size() < 4) return stays;
    const double from = note.struck ? note.onset + config.attackLeast : points.front().time;
    const std::vector<Stretch> shaken = vibratos(between(points, from, points.back().time), config);
    // A plateau inside a vibrato is one of its turning points; one that overlaps it keeps the part outside.
    for (Stretch plateau : plateaus(points, from, note.struck ? note.onset + config.glideLasts : from, config)) {
        bool keep = true;
        for (const Stretch& vibrato : shaken) {
            if (plateau.end <= vibrato.begin || plateau.begin >= vibrato.end) continue;
            if (plateau.begin < vibrato.begin - config.steadyWindow) plateau.end = vibrato.begin;
            else if (plateau.end > vibrato.end + config.steadyWindow) plateau.begin = vibrato.end;
            else keep = false;
        }
        if (keep && plateau.length() > 0.0) stays.push_back(plateau);
    }
    stays.insert(stays.end(), shaken.begin(), shaken.end());
    std::sort(stays.begin(), stays.end(), [](const Stretch& a, const Stretch& b) { return a.begin < b.begin; });

    std::vector<Stretch> stretches;
    // what lies between two stays is a move, before the first of them the attack
    const auto fill = [&](double begin, double end) {
        if (end - begin < 1e-3) return;
        Stretch between_;
        between_.state = stretches.empty() && note.struck ? StretchState::attack : StretchState::move;
        between_.begin = begin;
        between_.end = end;
        const Points inside = between(points, begin, end);
        const double leave = stretches.empty() ? (inside.empty() ? 0.0 : inside.front().cents) : stretches.back().level;
        between_.level = leave;
        for (const PitchPoint& p : inside)
            if (std::abs(p.cents - leave) > std::abs(between_.level - leave)) between_.level = p.cents;
        stretches.push_back(between_);
    };
    double now = note.struck ? note.onset : points.front().time;
    for (const Stretch& stay : stays) {
        fill(now, stay.begin);
        stretches.push_back(stay);
        now = stay.end;
    }
    fill(now, note.end.value_or(points.back().time));
    return stretches;
}

}  // namespace landfall
