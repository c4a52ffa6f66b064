// Knows a delay by its repeats and takes them out again. Analysis thread.
#pragma once

#include <cstddef>
#include <memory>
#include <span>

#include "dsp/units.h"

namespace landfall {

// The model is a delay line with feedback: w(n) = x(n) + f w(n - d), heard is y(n) = x(n) + g w(n - d). A linear
// predictor whitens the present and a stretch of the past alike (Makhoul 1975); where what is left of the past is found
// again in the present, it is a repeat of so much delay and gain. A stroke's repeat names the delay. It is believed
// when a pitch that the string has left is repeated as late and as loud: a string picked again, or a sampler that plays
// one key twice, repeats no pitch that is gone.
class EchoRemover {
public:
    struct Config {
        double sampleRate = 16000.0;  // 14.5 to 29 kHz
        Hertz lowest{58.0};
        Hertz highest{1800.0};
    };

    explicit EchoRemover(const Config& config);
    ~EchoRemover();
    EchoRemover(EchoRemover&&) noexcept;
    EchoRemover& operator=(EchoRemover&&) noexcept;

    // One sample in, the same without its echo out; as it came in while no echo is believed. No latency.
    float push(float sample) noexcept;
    // A pick stroke, by the number of its sample.
    void struck(std::size_t sample) noexcept;
    // Whether the last push made an echo believed. What came before is then had without it: so many samples, a second
    // at most, the last one pushed at their end. Valid until the next push.
    bool begun() const noexcept;
    std::span<const float> newest(std::size_t samples) const noexcept;
    void reset() noexcept;

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
