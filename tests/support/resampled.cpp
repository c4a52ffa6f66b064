#include "tests/support/resampled.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace landfall {

std::vector<float> resampled(const std::vector<float>& sound, double step) {
    constexpr double crossings = 24.0;
    const double band = std::min(1.0, 1.0 / step) * 0.97;  // of the input's Nyquist frequency
    const double reach = crossings / band;
    std::vector<float> out(static_cast<std::size_t>(static_cast<double>(sound.size()) / step));
    // Both sinusoids by rotation: sin and cos of a sum, from tap to tap.
    const double sincStep = std::numbers::pi * band, windowStep = std::numbers::pi / reach;
    const std::complex<double> turnSinc = std::polar(1.0, sincStep), turnWindow = std::polar(1.0, windowStep);
    for (std::size_t n = 0; n < out.size(); ++n) {
        const double centre = static_cast<double>(n) * step;
        const auto first = std::max<std::ptrdiff_t>(static_cast<std::ptrdiff_t>(std::ceil(centre - reach)), 0);
        const auto last = std::min(static_cast<std::ptrdiff_t>(std::floor(centre + reach)), std::ssize(sound) - 1);
        double x = static_cast<double>(first) - centre, sum = 0.0;
        std::complex<double> sinc = std::polar(1.0, sincStep * x), window = std::polar(1.0, windowStep * x);
        for (std::ptrdiff_t i = first; i <= last; ++i, x += 1.0, sinc *= turnSinc, window *= turnWindow) {
            const double weight = std::abs(x) < 1e-9 ? 1.0 : sinc.imag() / (sincStep * x);
            sum += static_cast<double>(sound[static_cast<std::size_t>(i)]) * weight * (0.5 + 0.5 * window.real());
        }
        out[n] = static_cast<float>(sum * band);
    }
    return out;
}

}  // namespace landfall
