#include "src/audio/plucked_string.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace landfall {

namespace {

using std::numbers::pi;
constexpr double steelModulus = 200e9;   // Pa
constexpr double steelDensity = 7850.0;  // kg/m^3
constexpr double scaleLength = 0.648;    // m
constexpr double commonTension = 75.0;   // N, about 17 lb: D'Addario's chart gives 11 to 20 lb
constexpr double inaudible = 1e-6;       // -120 dB

// Decay rates grow with frequency, sigma = sigma0 + b f^2 (after Chaigne & Askenfelt, JASA 95, 1994, where the damping
// has a constant term and one in the second derivative of time). Air and core of a steel string: 2 kHz rings about a
// third as long.
constexpr double highDamping = 2.0e-7;  // 1/s per Hz^2

}  // namespace

double stiffness(double coreDiameter, double tension, double length) {
    return pi * pi * pi * steelModulus * std::pow(coreDiameter, 4) / (64.0 * tension * length * length);
}

double openStringStiffness(Hertz openPitch) {
    const double massPerMetre = commonTension / std::pow(2.0 * scaleLength * openPitch.value, 2);
    const double coreShare = openPitch.value > 190.0 ? 1.0 : std::clamp(0.2 * openPitch.value / 82.4, 0.12, 0.5);
    const double diameter = std::sqrt(4.0 * coreShare * massPerMetre / (pi * steelDensity));
    return stiffness(diameter, commonTension, scaleLength);
}

double attackGlide(Cents atStroke, Seconds sinceStroke) {
    // Amplitude falls fast at first as the partials spread; 45 ms: assumed, of the order that recordings of hard
    // strokes show.
    return sinceStroke.value < 0.0 ? 0.0 : atStroke.value * std::exp(-sinceStroke.value / 0.045);
}

PluckedString::PluckedString(const Config& chosen) : config(chosen), noiseState(chosen.seed * 2654435761U + 1U) {
    if (noiseState == 0U) noiseState = 1U;
}

double PluckedString::random() {
    noiseState ^= noiseState << 13U;
    noiseState ^= noiseState >> 17U;
    noiseState ^= noiseState << 5U;
    return static_cast<double>(noiseState) / 2147483648.0 - 1.0;
}

double PluckedString::stiffnessAt(const Position& at) const {
    return config.openStiffness * std::exp2(at.fret / 6.0) * std::exp2(-at.bend.value / 600.0);
}

void PluckedString::strike(const Stroke& stroke, const Position& at) {
    before = std::move(now);
    before.dampingRate = 1.0 / 0.006;
    now = Vibration{};
    now.last = at;
    now.noise = stroke.level * stroke.pickNoise;
    now.noiseFall = 1.0 / 0.004;
    const double length = std::exp2(-at.fret / 12.0);  // of the open one
    const double pick = std::min(0.5, config.pickFromBridge / length),
                 pickup = std::min(0.5, config.pickupFromBridge / length);
    const double cornerHz = 700.0 + 3500.0 * stroke.brightness;  // the pick's own width and give
    const double second = std::pow(10.0, config.secondPolarisation.value / 20.0);
    const auto weight = [&](int k) {
        // An ideal pluck, sin(k pi p) / k^2 in displacement (Fletcher & Rossing, section 2.8), times k for a pickup
        // that hears velocity, times the pickup's place.
        const double soft = 1.0 / (1.0 + std::pow(k * at.pitch.value / cornerHz, 2));
        return std::sin(k * pi * pick) * std::sin(k * pi * pickup) / k * soft;
    };
    const double scale = stroke.level / weight(1);
    for (int k = 1; k <= config.partials; ++k) {
        const double amplitude = scale * weight(k);
        now.partials.push_back(
            {.phase = pi * random(), .turn = 0.0, .amplitude = amplitude, .amplitude2 = second * amplitude});
    }
}

void PluckedString::damp(Seconds timeConstant) { now.dampingRate = 1.0 / timeConstant.value; }

void PluckedString::loseEnergy(double share) {
    for (Partial& partial : now.partials) {
        partial.amplitude *= 1.0 - share;
        partial.amplitude2 *= 1.0 - share;
    }
}

bool PluckedString::silent() const { return now.partials.empty() && before.partials.empty(); }

void PluckedString::add(std::span<float> out, const Position& at) {
    if (!before.partials.empty()) add(before, out, before.last);
    if (!now.partials.empty()) {
        now.last = at;
        add(now, out, at);
    }
}

void PluckedString::fade(std::span<float> out) { add(out, Position(now.last)); }

void PluckedString::add(Vibration& vibration, std::span<float> out, const Position& at) {
    const double b = stiffnessAt(at);
    const double baseFrequency = at.pitch.value / std::sqrt(1.0 + b);
    // A shorter string rings less long: the finger and the neck take their share.
    const double ownRate = std::exp2(at.fret / 24.0) / config.decay.value + vibration.dampingRate;
    const double detune = std::exp2(config.polarisationDetune.value / 1200.0) - 1.0;
    double loudest = vibration.noise;
    for (std::size_t i = 0; i < vibration.partials.size(); ++i) {
        const double k = static_cast<double>(i + 1);
        const double frequency = k * baseFrequency * std::sqrt(1.0 + b * k * k);
        if (frequency > 0.45 * config.sampleRate) break;
        Partial& partial = vibration.partials[i];
        loudest = std::max(loudest, std::abs(partial.amplitude));
        if (std::abs(partial.amplitude) > 0.1 * inaudible)
            addPartial(partial, frequency, frequency * detune, ownRate + highDamping * frequency * frequency, out);
    }
    addNoise(vibration, out);
    if (loudest < inaudible) vibration.partials.clear();
}

// The two polarisations turn at nearly one speed: their sum is one phasor whose length and angle drift, here evenly
// over `out`.
void PluckedString::addPartial(Partial& partial, double frequency, double detune, double rate,
                               std::span<float> out) const {
    const double n = static_cast<double>(out.size()), seconds = n / config.sampleRate;
    const double c = std::cos(partial.phase), s = std::sin(partial.phase);
    const double x = partial.amplitude + partial.amplitude2 * std::cos(partial.turn),
                 y = partial.amplitude2 * std::sin(partial.turn);
    double re = c * x - s * y, im = s * x + c * y;
    partial.turn += 2.0 * pi * detune * seconds;
    const double x2 = partial.amplitude + partial.amplitude2 * std::cos(partial.turn),
                 y2 = partial.amplitude2 * std::sin(partial.turn);
    const double length = std::exp(-rate / config.sampleRate);
    const double drift = std::remainder(std::atan2(y2, x2) - std::atan2(y, x), 2.0 * pi);
    const double stretch = std::pow((x2 * x2 + y2 * y2) / (x * x + y * y), 0.5 / n);
    const double step = 2.0 * pi * frequency / config.sampleRate + drift / n;
    const double turnRe = length * stretch * std::cos(step), turnIm = length * stretch * std::sin(step);
    for (float& sample : out) {
        sample += static_cast<float>(re);
        const double next = re * turnRe - im * turnIm;
        im = re * turnIm + im * turnRe;
        re = next;
    }
    const double fall = std::exp(-rate * seconds);
    partial.amplitude *= fall;
    partial.amplitude2 *= fall;
    partial.phase = std::fmod(partial.phase + 2.0 * pi * frequency * seconds, 2.0 * pi);
    partial.turn = std::fmod(partial.turn, 2.0 * pi);
}

void PluckedString::addNoise(Vibration& vibration, std::span<float> out) {
    if (vibration.noise < inaudible) return;
    const double fall = std::exp(-vibration.noiseFall / config.sampleRate);
    for (float& sample : out) {
        const double white = random();
        noiseLow += 0.5 * (white - noiseLow);
        sample += static_cast<float>(vibration.noise * (white - noiseLow));
        vibration.noise *= fall;
    }
}

}  // namespace landfall
