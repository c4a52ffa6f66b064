#include "src/practice/pulse.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <Eigen/Dense>

#include "dsp/statistics.h"

namespace landfall {

namespace {

constexpr std::size_t leastAnchors = 4;
// A gap that is longer by this much of a beat and this much time than the beats ask is a break.
constexpr double breakBeats = 0.25, breakLeast = 0.12;
// A hand's own unevenness (common practice: 15 to 35 ms), and how much the tempo drifts over a line: a tenth.
constexpr double handSd = 0.025, driftSd = 0.06;

struct Anchored {
    std::size_t move = 0;
    double beat = 0.0, time = 0.0;
};

double driftOf(double beat, double length) { return beat * (beat - length) / std::max(1.0, length); }

// Coefficients: begin, seconds a quarter, drift, then how much each break takes.
struct Pulse {
    Eigen::VectorXd coefficients{};
    std::vector<std::size_t> breaks;  // indices of the anchors that they lie before
    double length = 0.0;

    double at(std::size_t index, double beat) const {
        double time = coefficients[0] + coefficients[1] * beat + coefficients[2] * driftOf(beat, length);
        for (std::size_t i = 0; i < breaks.size(); ++i)
            if (index >= breaks[i]) time += coefficients[static_cast<Eigen::Index>(3 + i)];
        return time;
    }
};

Pulse fit(const std::vector<Anchored>& anchors, std::vector<std::size_t> breaks, double length, double period) {
    Pulse pulse{.breaks = std::move(breaks), .length = length};
    const auto columns = static_cast<Eigen::Index>(3 + pulse.breaks.size());
    Eigen::VectorXd weights = Eigen::VectorXd::Ones(static_cast<Eigen::Index>(anchors.size()));
    for (int round = 0; round < 6; ++round) {
        // Normal equations with a prior on the drift.
        Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(columns, columns);
        Eigen::VectorXd right = Eigen::VectorXd::Zero(columns);
        for (std::size_t i = 0; i < anchors.size(); ++i) {
            Eigen::VectorXd row = Eigen::VectorXd::Zero(columns);
            row[0] = 1.0;
            row[1] = anchors[i].beat;
            row[2] = driftOf(anchors[i].beat, length);
            for (std::size_t each = 0; each < pulse.breaks.size(); ++each)
                if (i >= pulse.breaks[each]) row[static_cast<Eigen::Index>(3 + each)] = 1.0;
            const double weight = weights[static_cast<Eigen::Index>(i)] / (handSd * handSd);
            normal += weight * row * row.transpose();
            right += weight * row * anchors[i].time;
        }
        const double drift = driftSd * period;
        normal(2, 2) += 1.0 / (drift * drift);
        for (Eigen::Index each = 3; each < columns; ++each) normal(each, each) += 1e-4;
        pulse.coefficients = normal.ldlt().solve(right);
        for (std::size_t i = 0; i < anchors.size(); ++i) {
            const double away = std::abs(anchors[i].time - pulse.at(i, anchors[i].beat)) / (2.0 * handSd);
            weights[static_cast<Eigen::Index>(i)] = away > 1.0 ? 1.0 / away : 1.0;
        }
    }
    return pulse;
}

// Seconds a quarter as most neighbours have it.
double usualPeriod(const std::vector<Anchored>& anchors) {
    std::vector<double> periods;
    for (std::size_t i = 1; i < anchors.size(); ++i)
        for (std::size_t j = i > 4 ? i - 4 : 0; j < i; ++j)
            if (anchors[i].beat - anchors[j].beat > 0.2)
                periods.push_back((anchors[i].time - anchors[j].time) / (anchors[i].beat - anchors[j].beat));
    return periods.empty() ? 0.0 : median(std::move(periods));
}

}  // namespace

void timeAgainstPulse(const Line& line, LineMarks& marks) {
    if (!line.inTime) return;
    std::vector<Anchored> anchors;
    for (const LineMark& mark : marks.moves) {
        const LineMove& move = line.moves[mark.move];
        const auto& time = move.anchor == Anchor::onset ? mark.onset : mark.landingTime;
        if (move.move.gesture == Gesture::fall) continue;  // no fixed moment
        if (mark.outcome == Outcome::missed || mark.outcome == Outcome::died || !time) continue;
        if (!anchors.empty() && time->value <= anchors.back().time) continue;
        anchors.push_back({mark.move, move.beat, time->value});
    }
    if (anchors.size() < leastAnchors) return;
    const double period = usualPeriod(anchors);
    if (period <= 0.0) return;
    std::vector<std::size_t> breaks;
    for (std::size_t i = 1; i < anchors.size(); ++i) {
        const double asked = period * (anchors[i].beat - anchors[i - 1].beat);
        const double more = anchors[i].time - anchors[i - 1].time - asked;
        const bool struckBetween = std::any_of(marks.extra.begin(), marks.extra.end(), [&](Seconds stroke) {
            return stroke.value > anchors[i - 1].time + 0.02 && stroke.value < anchors[i].time - 0.02;
        });
        if (more > std::max(breakLeast, breakBeats * period) || (struckBetween && more > breakLeast))
            breaks.push_back(i);
        if (more > std::max(breakLeast, breakBeats * period) && !struckBetween
            && anchors[i].move == anchors[i - 1].move + 1)
            marks.waits.push_back({anchors[i].move, Seconds(more)});
    }
    const Pulse pulse = fit(anchors, breaks, line.length, period);
    for (std::size_t i = 0; i < anchors.size(); ++i)
        marks.moves[anchors[i].move].timing = Seconds(anchors[i].time - pulse.at(i, anchors[i].beat));
    // The mean over the line: the drift takes as much in its first half as it gives in its second.
    if (pulse.coefficients[1] > 0.0) marks.tempo = 60.0 / pulse.coefficients[1];
}

}  // namespace landfall
