// Lowers the sample rate by a whole factor to the tracker's working rate, linear phase, and removes DC. Analysis
// thread.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace landfall {

class Decimator {
public:
    struct Config {
        double sampleRate = 48000.0;  // 16 to 192 kHz; the working rate comes out between 14.5 and 29 kHz
    };

    explicit Decimator(const Config& config);

    std::size_t factor() const { return ratio; }
    double workingRate() const;
    // How many input samples an output lies behind the last input that went into it; whole.
    std::size_t latencySamples() const { return (taps.size() - 1) / 2; }

    // One sample in; every factor() samples one out. A sample that is not finite counts as 0, one beyond ±16 as ±16.
    std::optional<float> push(float sample) noexcept;
    void reset() noexcept;

private:
    Config config;
    std::size_t ratio = 1;
    std::vector<float> taps;
    double blockerPole = 0.0;

    std::vector<float> line;  // the last taps.size() inputs, twice, so that they lie in one piece
    std::size_t write = 0;
    std::size_t phase = 0;
    double blockerInput = 0.0;
    double blockerOutput = 0.0;
};

}  // namespace landfall
