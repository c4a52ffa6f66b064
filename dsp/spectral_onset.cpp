#include "dsp/spectral_onset.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include <kissfft/kiss_fftr.h>

namespace landfall {

namespace {

constexpr double windowSeconds = 0.012, fluxHopSeconds = 0.0025;
constexpr std::array bandEdges{200.0, 400.0, 700.0, 1000.0, 1500.0, 2000.0, 2700.0, 3500.0, 4500.0, 5800.0, 7500.0};
constexpr std::size_t bands = bandEdges.size() - 1;
// Louder than it was from 5 to 30 ms ago: over more than a period of the lowest note, whose own pulses are no strokes.
constexpr std::size_t newestBefore = 2, oldestBefore = 12;  // hops
// What lies this far under the loudest band of the last seconds is noise and tails, whose rises say nothing.
constexpr double floorShare = 0.02, loudestLasts = 3.0;
constexpr double floorLeast = 3e-5;  // amplitude; -90 dBFS
constexpr double leastStrength = 0.1;
constexpr double deadSeconds = 0.050;  // 12 strokes a second are 83 ms apart

}  // namespace

struct SpectralOnset::State {
    using Bands = std::array<double, bands>;

    explicit State(const Config& config)
        : window(static_cast<std::size_t>(std::lround(windowSeconds * config.sampleRate))),
          hop(static_cast<std::size_t>(std::lround(fluxHopSeconds * config.sampleRate))),
          fftSize(static_cast<std::size_t>(kiss_fftr_next_fast_size_real(static_cast<int>(window)))),
          fft(kiss_fftr_alloc(static_cast<int>(fftSize), 0, nullptr, nullptr)),
          forget(std::exp(-fluxHopSeconds / loudestLasts)), taper(window), ring(window), padded(fftSize),
          spectrum(fftSize / 2 + 1) {
        for (std::size_t i = 0; i < window; ++i)
            taper[i] =
                0.5 - 0.5 * std::cos(2.0 * std::numbers::pi * static_cast<double>(i) / static_cast<double>(window));
        for (std::size_t edge = 0; edge <= bands; ++edge)
            firstBin[edge] =
                std::min(spectrum.size(), static_cast<std::size_t>(std::ceil(bandEdges[edge] / config.sampleRate
                                                                             * static_cast<double>(fftSize))));
        clear();
    }
    ~State() { kiss_fftr_free(fft); }
    State(const State&) = delete;
    State& operator=(const State&) = delete;

    void clear() {
        std::fill(ring.begin(), ring.end(), 0.0f);
        past.fill({});
        count = hops = 0;
        loudest = before = newest = 0.0;
        deadUntil = 0;
    }

    Bands amplitudes() noexcept;
    double rise(const Bands& now) noexcept;

    const std::size_t window, hop, fftSize;
    kiss_fftr_cfg fft;
    const double forget;
    std::vector<double> taper;
    std::array<std::size_t, bands + 1> firstBin{};
    std::vector<float> ring;
    std::vector<kiss_fft_scalar> padded;
    std::vector<kiss_fft_cpx> spectrum;
    std::array<Bands, oldestBefore + 1> past{};
    std::size_t count = 0, hops = 0, deadUntil = 0;
    double loudest = 0.0;
    double before = 0.0, newest = 0.0;  // the rises of the last two hops
};

SpectralOnset::State::Bands SpectralOnset::State::amplitudes() noexcept {
    std::fill(padded.begin(), padded.end(), 0.0f);
    for (std::size_t i = 0; i < window; ++i)
        padded[i] = static_cast<kiss_fft_scalar>(static_cast<double>(ring[(count + i) % window]) * taper[i]);
    kiss_fftr(fft, padded.data(), spectrum.data());
    Bands result{};
    for (std::size_t band = 0; band < bands; ++band) {
        double power = 0.0;
        for (std::size_t bin = firstBin[band]; bin < firstBin[band + 1]; ++bin) {
            const double real = static_cast<double>(spectrum[bin].r), imaginary = static_cast<double>(spectrum[bin].i);
            power += real * real + imaginary * imaginary;
        }
        const std::size_t bins = firstBin[band + 1] - firstBin[band];
        if (bins > 0) result[band] = std::sqrt(power / static_cast<double>(bins)) / static_cast<double>(window);
    }
    return result;
}

double SpectralOnset::State::rise(const Bands& now) noexcept {
    loudest = std::max(*std::max_element(now.begin(), now.end()), loudest * forget);
    const double floor = std::max(floorLeast, floorShare * loudest);
    double sum = 0.0;
    for (std::size_t band = 0; band < bands; ++band) {
        double most = 0.0;
        for (std::size_t back = newestBefore; back <= oldestBefore && back <= hops; ++back)
            most = std::max(most, past[(hops - back) % past.size()][band]);
        sum += std::max(0.0, std::log((now[band] + floor) / (most + floor)));
    }
    return sum / static_cast<double>(bands);
}

SpectralOnset::SpectralOnset(const Config& config) : state(std::make_unique<State>(config)) {}
SpectralOnset::~SpectralOnset() = default;
SpectralOnset::SpectralOnset(SpectralOnset&&) noexcept = default;
SpectralOnset& SpectralOnset::operator=(SpectralOnset&&) noexcept = default;

std::optional<SpectralOnset::Rise> SpectralOnset::push(float sample) noexcept {
    State& s = *state;
    s.ring[s.count % s.window] = sample;
    ++s.count;
    if (s.count % s.hop != 0) return std::nullopt;
    const State::Bands now = s.amplitudes();
    const double rise = s.rise(now);
    s.past[s.hops % s.past.size()] = now;
    const std::size_t at = s.hops++;
    const bool peak = s.newest >= leastStrength && s.newest >= s.before && s.newest > rise && at >= s.deadUntil;
    const double strength = s.newest;
    s.before = s.newest;
    s.newest = rise;
    if (!peak) return std::nullopt;
    s.deadUntil = at + static_cast<std::size_t>(deadSeconds / fluxHopSeconds);
    // The window of the hop before this one is centred on it.
    return Rise{s.count - std::min(s.count, s.hop + s.window / 2), strength};
}

void SpectralOnset::reset() noexcept { state->clear(); }

}  // namespace landfall
