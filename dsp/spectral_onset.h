// Finds pick strokes that are hidden in sound that goes on: bands of the spectrum that rise together (spectral flux;
// Dixon, "Onset detection revisited", 2006). A fret, a hammer-on or a pull-off lifts them too, less. Analysis thread.
#pragma once

#include <array>
#include <cstddef>
#include <memory>
#include <optional>
#include <vector>

namespace landfall {

class SpectralOnset {
public:
    struct Config {
        double sampleRate = 16000.0;  // 14.5 to 29 kHz
    };

    struct Rise {
        std::size_t sample = 0;  // about where it began, counted from the first sample pushed
        double strength = 0.0;   // nepers, the mean over the bands of how much louder they became; at least 0.1
    };

    explicit SpectralOnset(const Config& config);
    ~SpectralOnset();
    SpectralOnset(SpectralOnset&&) noexcept;
    SpectralOnset& operator=(SpectralOnset&&) noexcept;

    // One sample in; a rise when one is just over, about 11 ms after it began. No allocation.
    std::optional<Rise> push(float sample) noexcept;
    void reset() noexcept;

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
