// Band-limited interpolation: the same sound at another sample rate or playing speed. Plain functions.
#pragma once

#include <vector>

namespace landfall {

// Output sample n is the input at n * step: step 2 halves the rate, or plays twice as fast at the same one. A sinc
// under a Hann window (Smith, Digital Audio Resampling, CCRMA) of 24 zero crossings to each side: in the passband true
// to better than 0.001, which is nothing for a pitch.
std::vector<float> resampled(const std::vector<float>& sound, double step);

}  // namespace landfall
