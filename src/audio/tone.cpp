#include "src/audio/tone.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace landfall {

namespace {

// Long enough for no click to be heard, short enough for the note's start to be felt as one.
constexpr double softSeconds = 0.06;
// Harmonic, so that its first partial is its pitch; rounder than a sine, so that it can be heard on small loudspeakers.
constexpr std::array<double, 4> partials{1.0, 0.35, 0.12, 0.05};

}  // namespace

void Tone::play(Hertz frequency, Seconds length, Decibels level) noexcept {
    stop();
    current = 1 - current;
    double sum = 0.0;
    for (const double partial : partials) sum += partial;
    voices[current] = {.step = frequency.value / rate,
                       .amplitude = std::pow(10.0, level.value / 20.0) / sum,
                       .remaining = length.value * rate};
}

void Tone::stop() noexcept { voices[current].remaining = 0.0; }

bool Tone::sounding() const noexcept {
    return std::ranges::any_of(voices,
                               [](const Voice& voice) { return voice.remaining > 0.0 || voice.envelope > 0.0; });
}

void Tone::render(std::span<float> block) noexcept {
    std::ranges::fill(block, 0.0f);
    const double soft = 1.0 / (softSeconds * rate);
    for (Voice& voice : voices) {
        for (float& sample : block) {
            voice.envelope = std::clamp(voice.envelope + (voice.remaining > 0.0 ? soft : -soft), 0.0, 1.0);
            if (voice.envelope == 0.0) break;
            voice.remaining -= 1.0;
            double value = 0.0;
            for (std::size_t k = 0; k < partials.size(); ++k) {
                const double cyclesASample = voice.step * static_cast<double>(k + 1);
                if (cyclesASample < 0.45)
                    value += partials[k] * std::sin(2.0 * std::numbers::pi * voice.phase * static_cast<double>(k + 1));
            }
            const double rounded = 0.5 - 0.5 * std::cos(std::numbers::pi * voice.envelope);
            sample += static_cast<float>(voice.amplitude * rounded * value);
            voice.phase += voice.step;
            voice.phase -= std::floor(voice.phase);
        }
    }
}

std::vector<float> tonesTogether(std::span<const Hertz> notes, Seconds length, double rate) {
    constexpr double dies = 0.2;  // s: the soft end
    std::vector<float> all(static_cast<std::size_t>((length.value + dies) * rate)), one(all.size());
    for (const Hertz note : notes) {
        Tone tone(rate);
        tone.play(note, length);
        tone.render(one);
        for (std::size_t i = 0; i < all.size(); ++i) all[i] += one[i] / static_cast<float>(notes.size());
    }
    return all;
}

std::vector<float> tonePair(Hertz asked, Hertz played, double rate) {
    constexpr double sounds = 0.4, begins = 0.6;  // s, from one to the other
    const auto length = static_cast<std::size_t>(begins * rate);
    std::vector<float> both(2 * length);
    Tone tone(rate);
    tone.play(asked, Seconds(sounds));
    tone.render(std::span(both).first(length));
    tone.play(played, Seconds(sounds));
    tone.render(std::span(both).subspan(length));
    return both;
}

}  // namespace landfall
