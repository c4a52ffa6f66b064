// Cuts one note's pitch into stretches as it grows: attack, plateau, move, vibrato. Pitches in cents on the MIDI scale
// (6900 = A4), times in seconds of the input. One thread.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "src/practice/pitch_points.h"

namespace landfall {

enum class StretchState { attack, plateau, move, vibrato };

// Stretches of a note follow one another without a gap. A plateau or a vibrato is a place where the pitch stays ("a
// stay").
struct Stretch {
    StretchState state = StretchState::move;
    double begin = 0.0, end = 0.0;
    // median of a plateau, mean over whole cycles of a vibrato; of a move its furthest pitch
    double level = 0.0;
    // Vibrato only:
    double rate = 0.0;               // cycles per second
    double bottom = 0.0, top = 0.0;  // medians of the turning points
    double evenness = 1.0;           // 1 - spread of the half cycles' lengths over their median
    bool stays() const { return state == StretchState::plateau || state == StretchState::vibrato; }
    double length() const { return end - begin; }
};

struct GestureReaderConfig {
    // A pick stroke starts sharp and noisy; 30 ms are the least before a pitch may count as steady (chosen for sampled
    // and recorded guitars).
    double attackLeast = 0.030;
    // Steady: over 50 ms the pitch stays within 12 cents and drifts by less than 80 cents/s: a tired hand that sags
    // does.
    double steadyWindow = 0.050;
    double steadyRange = 12.0;
    double steadySlope = 80.0;
    // Where it goes on the way it has come, by 12 cents in the last 0.3 s, it drifts by less than 25: a bend that takes
    // two seconds for a half step runs at 79 cents/s in its middle and is not to stop there. Four times slower than it
    // came is a stop that is not quite still.
    double approachSlope = 25.0, approachLeast = 12.0, approachWithin = 0.300, approachUneven = 4.0;
    // But a string struck hard begins sharp and falls by itself: 20 cents in half a second on clips and simulated
    // strings.
    double glideLasts = 0.5;
    // A plateau that has crept this far from where it began is another plateau.
    double plateauDrift = 18.0;
    // Two plateaus closer than this, with less than `mergeGap` between them, are one: a hold must change by 12 cents to
    // be a correction.
    double mergeLevels = 12.0;
    double mergeGap = 0.080;
    // Vibrato: at least four swings of 12 to 160 cents, each lasting 35 to 170 ms (3 to 14 Hz; players' vibratos run
    // from 4 to 8).
    double swingLeast = 12.0, swingMost = 160.0;
    double halfCycleLeast = 0.035, halfCycleMost = 0.170;
    int swingsLeast = 4;
    double turningPoint = 6.0;  // a turn smaller than this is noise
};

// What has been read of a note. What no later point can change is settled, and only what comes after is read again.
class GestureReader {
public:
    // `points` are those of the last call and more.
    std::vector<Stretch> of(std::span<const PitchPoint> points, double onset, bool struck, double end,
                            const GestureReaderConfig& config);

private:
    struct Turn {
        double time, cents;
    };
    struct Plateaus {
        std::vector<Stretch> found;        // of the runs of steady points that are over
        std::size_t next = 0;              // the first point not looked at
        std::optional<std::size_t> begin;  // of the run that goes on
        double reference = 0.0;            // the median of its first points
    };

    void readSteady();
    void readPlateaus(Plateaus& into, std::size_t upTo);
    void endRun(Plateaus& into, std::size_t end);
    void readTurns();
    std::vector<Stretch> vibratos();
    Stretch vibrato(std::size_t first, std::size_t last) const;

    // of this call
    std::span<const PitchPoint> points;
    GestureReaderConfig config;
    double from = 0.0, glides = 0.0;

    std::vector<bool> steady;  // of each point ...
    std::size_t sure = 0;      // ... settled so far
    Plateaus plateaus;
    MedianOfRun level, joined;
    std::vector<Turn> turns;  // settled; while a call lasts also where the pitch is on its way
    std::size_t turning = 0, low = 0, high = 0;
    int way = 0;                  // 0 until the first turn
    std::vector<Stretch> shaken;  // vibratos, settled
    std::size_t nextTurn = 0;     // the first that a later vibrato may begin with
};

}  // namespace landfall
