#include "dsp/autocorrelation.h"

#include <algorithm>
#include <complex>
#include <vector>

#include <kissfft/kiss_fftr.h>

namespace landfall {

namespace {

bool hasSmallFactorsOnly(std::size_t n) {
    for (std::size_t p : {2u, 3u, 5u})
        while (n % p == 0) n /= p;
    return n == 1;
}

std::size_t fftSizeFor(std::size_t atLeast) {
    std::size_t size = atLeast + atLeast % 2;
    while (!hasSmallFactorsOnly(size)) size += 2;
    return size;
}

}  // namespace

struct Autocorrelation::State {
    Config config;
    std::size_t size = 0;
    kiss_fftr_cfg forward = nullptr;
    kiss_fftr_cfg inverse = nullptr;
    std::vector<float> time;
    std::vector<kiss_fft_cpx> spectrum;
    ~State() {
        kiss_fftr_free(forward);
        kiss_fftr_free(inverse);
    }
};

Autocorrelation::Autocorrelation(const Config& config) : state(std::make_unique<State>()) {
    state->config = config;
    state->size = fftSizeFor(config.longestInput + config.longestLag + 1);
    state->forward = kiss_fftr_alloc(static_cast<int>(state->size), 0, nullptr, nullptr);
    state->inverse = kiss_fftr_alloc(static_cast<int>(state->size), 1, nullptr, nullptr);
    state->time.assign(state->size, 0.0f);
    state->spectrum.assign(state->size / 2 + 1, {});
}

Autocorrelation::~Autocorrelation() = default;

std::size_t Autocorrelation::fftSize() const { return state->size; }

std::span<const float> Autocorrelation::of(std::span<const float> samples) noexcept {
    State& s = *state;
    std::fill(std::copy(samples.begin(), samples.end(), s.time.begin()), s.time.end(), 0.0f);
    kiss_fftr(s.forward, s.time.data(), s.spectrum.data());
    const float scale = 1.0f / static_cast<float>(s.size);
    for (kiss_fft_cpx& bin : s.spectrum) bin = {(bin.r * bin.r + bin.i * bin.i) * scale, 0.0f};
    kiss_fftri(s.inverse, s.spectrum.data(), s.time.data());
    return std::span<const float>(s.time).first(s.config.longestLag + 1);
}

}  // namespace landfall
