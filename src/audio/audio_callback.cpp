#include <algorithm>
#include <chrono>
#include <cmath>

#include "src/audio/audio_shared.h"

namespace landfall {

namespace {

// Each counter has one writer, so a plain load and store is enough.
void add(std::atomic<std::uint64_t>& counter, std::uint64_t amount) noexcept {
    counter.store(counter.load(std::memory_order_relaxed) + amount, std::memory_order_relaxed);
}

Seconds secondsOf(std::chrono::steady_clock::time_point moment) noexcept {
    return Seconds(std::chrono::duration<double>(moment.time_since_epoch()).count());
}

}  // namespace

void AudioCallback::account(std::chrono::steady_clock::time_point began) noexcept {
    const auto took = static_cast<std::uint64_t>(
        std::chrono::duration_cast<std::chrono::nanoseconds>(std::chrono::steady_clock::now() - began).count());
    auto& worst = shared.counts.worstNanoseconds;
    for (std::uint64_t was = worst.load(std::memory_order_relaxed);
         was < took && !worst.compare_exchange_weak(was, took, std::memory_order_relaxed);) {
    }
}

void AudioCallback::hear(const InputBlock& block) noexcept {
    const auto began = std::chrono::steady_clock::now();
    AudioCounts& counts = shared.counts;
    const double rate = shared.answer.rate;
    if (block.broke) {
        add(counts.inputBreaks, 1);
        // The library does not say how much was lost; its clock does, give or take a late wake-up. JACK reports a break
        // at every late wake-up: beside two busy processes none of 9 such reports under a block had lost a sample
        // (tests/bench/audio_soak). Others lose something each time.
        const double lost = block.capturedAt > 0.0 && expectedAt > 0.0 ? (block.capturedAt - expectedAt) * rate : 0.0;
        const bool credible = lost >= static_cast<double>(block.frames) && lost < 60.0 * rate;
        const std::uint64_t missing = credible            ? static_cast<std::uint64_t>(std::llround(lost))
                                      : block.falseAlarms ? 0
                                                          : 1;
        shared.input.lose(missing);
        capturedSamples += missing;
    }
    if (block.capturedAt > 0.0) expectedAt = block.capturedAt + static_cast<double>(block.frames) / rate;

    const auto chosen = static_cast<std::size_t>(shared.wish.channel - 1);
    const auto channels = static_cast<std::size_t>(block.channels);
    for (unsigned long done = 0; block.samples != nullptr && done < block.frames;) {
        const std::size_t part = std::min<std::size_t>(block.frames - done, heard.size());
        const std::span<float> mono(heard.data(), part);
        const auto copy = [&](std::size_t channel, auto& ring) {
            for (std::size_t i = 0; i < part; ++i) mono[i] = block.samples[(done + i) * channels + channel];
            ring.write(mono);
        };
        copy(chosen, shared.input);
        for (std::size_t k = 0; k < std::min(channels, shared.channels.size()); ++k) copy(k, shared.channels[k]);
        done += part;
    }
    add(counts.frames, block.frames);
    capturedSamples += block.frames;
    const double length = static_cast<double>(block.frames) / rate;
    counts.captured.set(
        {capturedSamples, secondsOf(began) + Seconds(block.age.value > 0.0 ? length - block.age.value : 0.0)});
    account(began);
    counts.callbacks.store(counts.callbacks.load(std::memory_order_relaxed) + 1, std::memory_order_release);
}

void AudioCallback::play(const OutputBlock& block) noexcept {
    const auto began = std::chrono::steady_clock::now();
    if (block.broke) add(shared.counts.outputBreaks, 1);
    const auto copies = static_cast<std::size_t>(block.channels);
    for (unsigned long done = 0; done < block.frames;) {
        const std::size_t part = std::min<std::size_t>(block.frames - done, played.size());
        const std::span<float> mono(played.data(), part);
        const Chunk chunk = shared.output.read(mono);
        std::fill(mono.begin() + static_cast<std::ptrdiff_t>(chunk.samples), mono.end(), 0.0f);
        add(shared.counts.filled, part - chunk.samples);
        for (std::size_t i = 0; i < part; ++i) std::fill_n(block.samples + (done + i) * copies, copies, mono[i]);
        done += part;
    }
    playedSamples += block.frames;
    shared.counts.played.set({playedSamples, secondsOf(began) + block.ahead
                                                 + Seconds(static_cast<double>(block.frames) / shared.answer.rate)});
    account(began);
}

}  // namespace landfall
