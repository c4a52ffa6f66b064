// Real FFT of one size over KissFFT. Allocates when made, never after. One thread at a time.
#pragma once

#include <complex>
#include <memory>
#include <span>

namespace landfall {

class RealFft {
public:
    // `size` even, with factors 2, 3 and 5 only (KissFFT allocates in the transform for others).
    explicit RealFft(int size);
    ~RealFft();
    RealFft(RealFft&&) noexcept;
    RealFft& operator=(RealFft&&) noexcept;

    void forward(std::span<const float> samples, std::span<std::complex<float>> spectrum) noexcept;  // size, size / 2 + 1
    void inverse(std::span<const std::complex<float>> spectrum, std::span<float> samples) noexcept;  // unscaled: size times the input

private:
    struct Plans;
    std::unique_ptr<Plans> plans;
};

}  // namespace landfall
