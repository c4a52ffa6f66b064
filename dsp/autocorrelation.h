// Autocorrelation of a short stretch by FFT: sum over j of x[j] x[j + lag]. Fixed sizes, one thread.
#pragma once

#include <cstddef>
#include <memory>
#include <span>

namespace landfall {

class Autocorrelation {
public:
    struct Config {
        std::size_t longestInput = 768;  // samples
        std::size_t longestLag = 280;
    };

    explicit Autocorrelation(const Config& config);
    ~Autocorrelation();

    // At most longestInput samples. Lags 0 to longestLag; valid until the next call.
    std::span<const float> of(std::span<const float> samples) noexcept;
    std::size_t fftSize() const;  // factors 2, 3 and 5 only: KissFFT allocates for others

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
