// A note's pitch, point by point, and what is read of a run of points. Pitches in cents on the MIDI scale (6900 = A4),
// times in seconds of the input. Plain functions, any thread.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <vector>

#include "dsp/pitch_frame.h"

namespace landfall {

// A settled frame that has a pitch.
struct PitchPoint {
    double time = 0.0;      // centre
    double cents = 0.0;     // 100 * MIDI pitch at the set A4
    double sd = 0.0;        // cents
    double wander = 0.0;    // cents: the part of it that stays for tenths of a second
    double level = -140.0;  // dBFS
    double ownSd() const { return std::sqrt(std::max(0.0, sd * sd - wander * wander)); }  // without what stays
};

using Points = std::span<const PitchPoint>;

// Those from one moment to another, both included.
Points between(Points points, double from, double to);

double medianOf(Points points);  // of the pitch; not of none

// Median of the pitch between two moments; empty where fewer than `least` points lie there.
std::optional<double> medianCents(Points points, double from, double to, std::size_t least = 3);

// A straight line by least squares.
struct Trend {
    double slope = 0.0;   // per second; 0 where there is none
    double spread = 0.0;  // s²: of the times about their mean
};
Trend trendOf(Points points, double PitchPoint::*value = &PitchPoint::cents);

// When the pitch last rose, or fell where `way` is -1, through a level; empty where it never did.
std::optional<double> lastThrough(Points points, double level, double way);

// The median of a run of points: asked again with another end, it costs only the points between the two ends.
class MedianOfRun {
public:
    double of(Points points, std::size_t begin, std::size_t end);

private:
    std::size_t first = 0, last = 0;
    std::vector<double> sorted;
};

}  // namespace landfall
