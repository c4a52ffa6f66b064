// Low-pass and keep every n-th sample; a windowed-sinc FIR with constant delay, DC removed. One thread.
#pragma once

#include <vector>

namespace landfall {

class Decimator {
public:
    explicit Decimator(int factor);

    // True when this input sample completes an output sample.
    bool push(float sample, float& output) noexcept;
    void reset() noexcept;

    int factor() const { return keepEvery; }
    double delaySamples() const { return static_cast<double>(taps.size() - 1) / 2.0; }  // in input samples

private:
    int keepEvery;
    std::vector<float> taps;
    std::vector<float> history;  // twice the taps' length, so that a window is always contiguous
    std::size_t at = 0;
    int countdown;
};

}  // namespace landfall
