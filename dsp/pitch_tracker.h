// Samples in, two streams of pitch frames and pick strokes out. 61.7 Hz (B1) to 1.7 kHz. One thread, the analysis
// thread.
#pragma once

#include <memory>
#include <optional>
#include <span>

#include "dsp/pitch_frame.h"

namespace landfall {

class PitchTracker {
public:
    struct Config {
        double sampleRate = 48000.0;  // 16 to 192 kHz
        Hertz lowest{58.0};
        Hertz highest{1800.0};
        // Notes follow one another without a gap: strokes are heard also where the sound before goes on, by
        // SpectralOnset. No echo is taken out: notes of a line, played again in time, may be one another's repeats.
        bool connected = false;
    };

    // What the caller knows of the string being played. It may steer the choice of the octave, never the cents.
    struct StringHint {
        std::optional<double> inharmonicity;  // B at the asked fret, 0 to 0.01; anything else counts as not known
        std::optional<Hertz> expected;        // around which pitch the player is asked to be
    };

    // Frames that became available during one call of process; valid until the next call.
    struct Output {
        std::span<const PitchFrame> provisional;  // lowest lag, for the eye
        std::span<const PitchFrame> settled;      // centre-stamped, for the score
        std::span<const Onset> onsets;
        std::span<const Growth> growths;  // of each onset
        std::span<const Break> breaks;    // only where `connected`
    };

    explicit PitchTracker(const Config& config);
    ~PitchTracker();
    PitchTracker(PitchTracker&&) noexcept;
    PitchTracker& operator=(PitchTracker&&) noexcept;

    static constexpr std::size_t maxBlockSamples = 4096;

    // From a moment of the input to the settled frame that tells of it, at most: so much silence after the end brings
    // out what is still held back.
    Seconds latency() const noexcept;

    // At most maxBlockSamples at a time; how the input is cut does not change the frames. No allocation.
    Output process(std::span<const float> samples) noexcept;
    void hint(const StringHint& hint) noexcept;  // holds from the next stroke on, until the next hint or a reset
    // From here on there are strokes and levels only, at a tenth of the cost: no provisional frames, and settled ones
    // without a pitch; or all of it again.
    void hearStrokesOnly(bool only) noexcept;
    void reset() noexcept;  // as freshly made

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
