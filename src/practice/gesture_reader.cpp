#include "src/practice/gesture_reader.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "dsp/statistics.h"

namespace landfall {

namespace {

// Whether the pitch is steady around a point; until `glides` it may fall as a struck string does by itself.
bool isSteady(Points points, std::size_t i, double glides, const GestureReaderConfig& config) {
    const double half = config.steadyWindow / 2.0;
    const Points window = between(points, points[i].time - half, points[i].time + half);
    if (window.size() < 4 || window.back().time - window.front().time < 0.7 * config.steadyWindow) return false;
    double low = window[0].cents, high = low, sd = 0.0;
    for (const PitchPoint& p : window) {
        low = std::min(low, p.cents);
        high = std::max(high, p.cents);
        sd += p.sd;
    }
    sd /= static_cast<double>(window.size());
    const Trend trend = trendOf(window);
    // What the frames' own noise adds to the range of ten of them (about 3 sd) and to the slope.
    const double noise = std::min(sd, 8.0);
    const double slope = trend.slope,
                 came = points[i].cents
                        - between(points, points[i].time - config.approachWithin, points[i].time).front().cents;
    const bool evenly =
        slope * came > 0.0 && std::abs(came) < config.approachUneven * config.approachWithin * std::abs(slope);
    const bool goesOn = evenly && std::abs(came) >= config.approachLeast && (slope > 0.0 || points[i].time >= glides);
    const double most = goesOn ? config.approachSlope : config.steadySlope;
    return high - low <= config.steadyRange + 3.0 * noise
           && std::abs(slope) <= most + 2.0 * noise / std::sqrt(trend.spread);
}

template <typename Turn>
bool isSwing(const Turn& a, const Turn& b, const GestureReaderConfig& config) {
    const double size = std::abs(b.cents - a.cents), half = b.time - a.time;
    return size >= config.swingLeast && size <= config.swingMost && half >= config.halfCycleLeast
           && half <= config.halfCycleMost;
}

// Neighbouring half cycles of a vibrato are alike in length and size, and do not run away.
template <typename Turn>
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

// What lies between two stays is a move, before the first of them the attack.
std::vector<Stretch> filled(Points points, const std::vector<Stretch>& stays, bool struck, double begin, double end) {
    std::vector<Stretch> stretches;
    const auto fill = [&](double from, double to) {
        if (to - from < 1e-3) return;
        Stretch move;
        move.state = stretches.empty() && struck ? StretchState::attack : StretchState::move;
        move.begin = from;
        move.end = to;
        const Points inside = between(points, from, to);
        const double leave = stretches.empty() ? (inside.empty() ? 0.0 : inside.front().cents) : stretches.back().level;
        move.level = leave;
        for (const PitchPoint& p : inside)
            if (std::abs(p.cents - leave) > std::abs(move.level - leave)) move.level = p.cents;
        stretches.push_back(move);
    };
    for (const Stretch& stay : stays) {
        fill(begin, stay.begin);
        stretches.push_back(stay);
        begin = stay.end;
    }
    fill(begin, end);
    return stretches;
}

}  // namespace

// A point's window is complete once a later one lies beyond it.
void GestureReader::readSteady() {
    steady.resize(points.size());
    for (std::size_t i = sure; i < points.size(); ++i) {
        steady[i] = isSteady(points, i, glides, config);
        if (i == sure && points[i].time + config.steadyWindow / 2.0 < points.back().time) ++sure;
    }
}

void GestureReader::readPlateaus(Plateaus& into, std::size_t upTo) {
    constexpr std::size_t referenceOf = 40;  // points
    for (; into.next < upTo; ++into.next) {
        const std::size_t i = into.next;
        if (into.begin) {
            const std::size_t length = i - *into.begin;
            if (length <= referenceOf) into.reference = medianOf(points.subspan(*into.begin, length));
            if (steady[i] && points[i].time - points[i - 1].time < config.mergeGap
                && std::abs(points[i].cents - into.reference) <= config.plateauDrift)
                continue;
            endRun(into, i);
        }
        if (steady[i] && points[i].time >= from) into.begin = i;
    }
}

void GestureReader::endRun(Plateaus& into, std::size_t end) {
    const std::size_t begin = *std::exchange(into.begin, std::nullopt);
    const double half = config.steadyWindow / 2.0;
    Stretch plateau;
    plateau.state = StretchState::plateau;
    plateau.begin = std::max(from, points[begin].time - half);
    plateau.end = std::min(points.back().time, points[end - 1].time + half);
    if (!into.found.empty()) plateau.begin = std::max(plateau.begin, into.found.back().end);
    plateau.level = level.of(points, begin, end);
    if (into.found.empty() || std::abs(plateau.level - into.found.back().level) >= config.mergeLevels
        || plateau.begin - into.found.back().end >= config.mergeGap) {
        into.found.push_back(plateau);
        return;
    }
    Stretch& before = into.found.back();
    before.end = plateau.end;
    const Points whole = between(points, before.begin, before.end);
    const auto first = static_cast<std::size_t>(whole.data() - points.data());
    before.level = joined.of(points, first, first + whole.size());
}

// Where the pitch turns back by more than its noise.
void GestureReader::readTurns() {
    if (turning == 0) {
        const Points after = between(points, from, points.back().time);
        if (after.empty()) return;
        low = high = static_cast<std::size_t>(after.data() - points.data());
        turning = low + 1;
    }
    const auto turn = [&](std::size_t i) { turns.push_back({points[i].time, points[i].cents}); };
    for (; turning < points.size(); ++turning) {
        const std::size_t i = turning;
        const double c = points[i].cents, margin = config.turningPoint + 2.0 * std::min(points[i].sd, 8.0);
        if (way >= 0 && c > points[high].cents) high = i;
        if (way <= 0 && c < points[low].cents) low = i;
        if (way >= 0 && points[high].cents - c > margin) {
            turn(high);
            way = -1;
            low = i;
        } else if (way <= 0 && c - points[low].cents > margin) {
            turn(low);
            way = 1;
            high = i;
        }
    }
}

Stretch GestureReader::vibrato(std::size_t first, std::size_t last) const {
    Stretch found;
    found.state = StretchState::vibrato;
    std::vector<double> halves, tops, bottoms;
    for (std::size_t k = first; k < last; ++k) halves.push_back(turns[k + 1].time - turns[k].time);
    for (std::size_t k = first; k <= last; ++k) {
        const std::size_t other = k == last ? k - 1 : k + 1;
        (turns[k].cents > turns[other].cents ? tops : bottoms).push_back(turns[k].cents);
    }
    const double half = median(halves);
    const std::size_t cycles = (last - first) / 2;
    found.rate = static_cast<double>(cycles) / (turns[first + 2 * cycles].time - turns[first].time);
    found.evenness = std::max(0.0, 1.0 - medianDeviation(std::move(halves), half) / half);
    found.bottom = median(bottoms);
    found.top = median(tops);
    found.level = cycleMean(points, turns[first].time, turns[first + 2 * cycles].time);
    // The first turn is half a cycle after the pitch left its place, the last one at most half a cycle before it is
    // back.
    found.begin = std::max(between(points, from, points.back().time).front().time, turns[first].time - half);
    found.end = std::min(points.back().time, turns[last].time + half);
    // not into the rise that led here
    const Points before = between(points, found.begin, turns[first].time);
    const auto outside = std::find_if(before.rbegin(), before.rend(), [&](const PitchPoint& p) {
        return p.cents < found.bottom - config.steadyRange || p.cents > found.top + config.steadyRange;
    });
    if (outside != before.rend()) found.begin = std::min(outside->time + 1e-4, turns[first].time);
    return found;
}

std::vector<Stretch> GestureReader::vibratos() {
    const std::size_t settled = turns.size();
    if (way != 0) turns.push_back({points[way > 0 ? high : low].time, points[way > 0 ? high : low].cents});
    std::vector<Stretch> found = shaken;
    bool settles = true;
    for (std::size_t i = nextTurn; i + 1 < turns.size();) {
        std::size_t last = i;
        while (last + 1 < turns.size() && isSwing(turns[last], turns[last + 1], config)
               && (last == i || alike(turns[last - 1], turns[last], turns[last + 1])))
            ++last;
        settles = settles && last + 1 < settled;
        const bool shakes = static_cast<int>(last - i) >= config.swingsLeast;
        if (shakes) {
            found.push_back(vibrato(i, last));
            settles = settles && found.back().end < points.back().time;
        }
        i = shakes ? last : i + 1;
        if (!settles) continue;
        nextTurn = i;
        if (shakes) shaken.push_back(found.back());
    }
    turns.resize(settled);
    return found;
}

std::vector<Stretch> GestureReader::of(Points given, double onset, bool struck, double end,
                                       const GestureReaderConfig& reader) {
    points = given;
    config = reader;
    std::vector<Stretch> stays;
    if (points.size() < 4) return stays;
    from = struck ? onset + config.attackLeast : points.front().time;
    glides = struck ? onset + config.glideLasts : from;
    readSteady();
    readPlateaus(plateaus, sure);
    Plateaus tentative = plateaus;
    readPlateaus(tentative, points.size());
    if (tentative.begin) endRun(tentative, points.size());
    readTurns();
    const std::vector<Stretch> vibrati = vibratos();
    // A plateau inside a vibrato is one of its turning points; one that overlaps it keeps the part outside.
    for (Stretch plateau : tentative.found) {
        bool keep = true;
        for (const Stretch& vibrato : vibrati) {
            if (plateau.end <= vibrato.begin || plateau.begin >= vibrato.end) continue;
            if (plateau.begin < vibrato.begin - config.steadyWindow) plateau.end = vibrato.begin;
            else if (plateau.end > vibrato.end + config.steadyWindow) plateau.begin = vibrato.end;
            else keep = false;
        }
        if (keep && plateau.length() > 0.0) stays.push_back(plateau);
    }
    stays.insert(stays.end(), vibrati.begin(), vibrati.end());
    std::sort(stays.begin(), stays.end(), [](const Stretch& a, const Stretch& b) { return a.begin < b.begin; });
    return filled(points, stays, struck, struck ? onset : points.front().time, end);
}

}  // namespace landfall
