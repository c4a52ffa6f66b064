// What the trainer and its audio process share, in one block of memory: the wish, the answer, the counters and the two
// rings.
#pragma once

#include <array>
#include <atomic>
#include <chrono>
#include <cstdint>
#include <string_view>
#include <type_traits>

#include "src/audio/sample_ring.h"
#include "src/audio/sound_clock.h"

namespace landfall {

template <std::size_t size>
using FixedText = std::array<char, size>;

// Cut where it is too long; always ended by a zero.
template <std::size_t size>
void setText(FixedText<size>& text, std::string_view words) {
    const std::size_t length = std::min(words.size(), size - 1);
    std::copy_n(words.begin(), length, text.begin());
    text[length] = '\0';
}

enum class AudioStage : std::uint32_t { opening, listed, running, noDevice, refusedRate, failed };

struct SharedDevice {
    FixedText<32> api{};
    FixedText<256> name{};
    std::int32_t inputs = 0;
    std::int32_t outputs = 0;
    double defaultRate = 0.0;
    double inputLatency = 0.0;  // s; 0 = unknown
    double outputLatency = 0.0;
    std::uint32_t defaultInput = 0;
    std::uint32_t defaultOutput = 0;
    std::uint32_t converted = 0;
};

// Hear one device; say which there are; or hear all inputs at once and tell no more than how loud they are.
enum class AudioTask : std::uint32_t { hear, list, meter };

// Fixed before the process starts.
struct AudioWish {
    AudioTask task = AudioTask::hear;
    FixedText<320> input{};   // a device's label or a part of it; empty: the default
    FixedText<320> output{};  // empty: the input device if it can, else the default of its interface
    std::uint32_t wantsOutput = 0;
    std::int32_t channel = 1;
    std::int32_t rate = 0;  // 0: the device's own
    std::int32_t frames = 128;
};

// Written by the audio process before it sets `stage`; not changed after.
struct AudioAnswer {
    FixedText<1024> message{};
    FixedText<320> inputLabel{};
    FixedText<320> outputLabel{};  // empty: no output
    std::int32_t inputChannels = 0;
    double rate = 0.0;
    std::uint32_t deviceCount = 0;
    std::array<SharedDevice, 128> devices{};
};

// The callback's own counts; a reader sees each one whole, not all at one moment.
struct AudioCounts {
    std::atomic<std::uint64_t> callbacks{0};
    std::atomic<std::uint64_t> frames{0};
    std::atomic<std::uint64_t> inputBreaks{0};   // times the device said that input was lost
    std::atomic<std::uint64_t> outputBreaks{0};  // times the device said that output came too late
    std::atomic<std::uint64_t> worstNanoseconds{0};
    SharedPosition captured;  // `frames` and those that the device lost
    SharedPosition played;
    std::atomic<std::uint64_t> filled{0};  // of those played: silence, since the ring had run dry
};

struct AudioShared {
    static constexpr std::uint32_t currentLayout = 7;
    static constexpr std::size_t meteredChannels = 8;

    std::uint32_t layout = currentLayout;  // another number: the other side is of another version
    AudioWish wish;
    AudioAnswer answer;
    alignas(64) std::atomic<AudioStage> stage{AudioStage::opening};
    std::atomic<std::uint32_t> active{0};    // what the library says of the input's stream, looked up every 20 ms
    std::atomic<std::uint32_t> plays{0};     // the same of the output's
    std::atomic<std::uint32_t> finished{0};  // the library ended the input's stream
    std::atomic<std::uint32_t> stop{0};      // the trainer asks for an orderly end
    alignas(64) AudioCounts counts;
    SampleRing<1u << 19> input;  // 5.4 s at 96 kHz: an analysis that stalls longer loses samples, counted
    SampleRing<1u << 15> output;
    // For the levels alone: .3 s at 96 kHz of every channel; what comes while nobody looks is dropped.
    std::array<SampleRing<1u << 15>, meteredChannels> channels{};
    // `meter`: how loud each device of the answer is.
    struct Meter {
        std::atomic<std::int32_t> channels{0};                    // heard; 0: the device is not
        std::array<std::atomic<float>, meteredChannels> peaks{};  // since the trainer took them
    };
    std::array<Meter, std::tuple_size_v<decltype(AudioAnswer::devices)>> meters{};
};

static_assert(std::is_standard_layout_v<AudioShared> && std::atomic<AudioStage>::is_always_lock_free);

// One call of the audio library's callback for the input; samples are interleaved.
struct InputBlock {
    const float* samples = nullptr;
    int channels = 0;
    unsigned long frames = 0;
    bool broke = false;
    bool falseAlarms = false;  // the host reports breaks that lose nothing (JACK)
    double capturedAt = 0.0;   // s, the library's time of the first sample; 0 = unknown
    Seconds age{};             // of the first sample at the call; 0 = unknown
};

// And for the output.
struct OutputBlock {
    float* samples = nullptr;
    int channels = 0;
    unsigned long frames = 0;
    bool broke = false;
    Seconds ahead{};  // until the first sample sounds; 0 = unknown
};

// The callbacks' state of their own; each side may have a thread of its own. Copies samples, counts, and nothing else:
// no allocation, lock, system call or exception.
class AudioCallback {
public:
    explicit AudioCallback(AudioShared& memory) : shared(memory) {}
    void hear(const InputBlock& block) noexcept;
    void play(const OutputBlock& block) noexcept;

private:
    using Scratch = std::array<float, 4096>;  // one channel of one block
    void account(std::chrono::steady_clock::time_point began) noexcept;

    AudioShared& shared;
    Scratch heard{}, played{};
    double expectedAt = 0.0;
    std::uint64_t capturedSamples = 0, playedSamples = 0;
};

}  // namespace landfall
