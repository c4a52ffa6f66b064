// Arbitrary samples in arbitrary blocks into the Listener, and straight into the PitchTracker, while moves, target and
// order change.
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "src/practice/listener.h"
#include "tests/fuzz/fuzz_input.h"

using namespace landfall;

namespace {

constexpr std::array rates{16000.0, 22050.0, 44100.0, 48000.0, 96000.0, 192000.0};
constexpr double longest = 1.2;  // seconds of sound an input may make

void check(const PitchFrame& frame) {
    mustHold(std::isfinite(frame.available.value) && frame.centre <= frame.available, "a frame's times are in order");
    mustHold(std::isfinite(frame.level.value), "a frame has a level");
    if (!frame.pitch) return;
    mustHold(frame.pitch->value > 20.0 && frame.pitch->value < 4000.0, "a pitch is in the range of a guitar");
    mustHold(std::isfinite(frame.sd.value) && frame.sd.value >= 0.0, "a pitch has a standard deviation");
    mustHold(std::isfinite(frame.inharmonicity), "a pitch has a finite B");
}

template <typename Quantity>
void check(const std::optional<Quantity>& quantity) {
    mustHold(!quantity || std::isfinite(quantity->value), "a measured quantity is finite");
}

void check(const Landing& landing) {
    mustHold(landing.onset <= landing.end, "a try ends after it began");
    mustHold(!landing.sentence.empty(), "a landing has its sentence");
    for (const auto& time : {landing.landingTime, landing.riseTime, landing.holdLength, landing.linger}) check(time);
    for (const auto& cents : {landing.landingError, landing.firstStopError, landing.sd, landing.startError,
                              landing.correction, landing.overshoot, landing.holdSpread, landing.sag})
        check(cents);
    check(landing.levelKept);
    if (landing.vibrato)
        for (const double value :
             {landing.vibrato->rate.value, landing.vibrato->width.value, landing.vibrato->bottom.value,
              landing.vibrato->top.value, landing.vibrato->centre.value, landing.vibrato->evenness})
            mustHold(std::isfinite(value), "a vibrato's numbers are finite");
}

struct Check {
    void operator()(const InputLevel& e) const {
        mustHold(e.peak.value >= -140.0 && e.peak.value < 1.0 && std::isfinite(e.rms.value), "levels are in range");
    }
    void operator()(const LivePitch& e) const {
        check(e.frame);
        check(e.fromTarget);
    }
    void operator()(const LiveStrings& e) const {
        for (const auto& each : e.fromTarget) check(each);
    }
    void operator()(const PickStroke& e) const {
        mustHold(std::isfinite(e.onset.time.value) && e.onset.time <= e.onset.available,
                 "a stroke is known after it was");
    }
    void operator()(const ProvisionalLanding& e) const { check(e.landing); }
    void operator()(const FinalLanding& e) const { check(e.landing); }
    void operator()(const TryEnded& e) const { check(e.landing); }
    template <typename Other>
    void operator()(const Other& e) const {
        mustHold(std::isfinite(e.at.value), "an event has a time");
    }
};

Move moveFrom(FuzzInput& input) {
    const double from = 40.0 + input.below(48);
    Move move{static_cast<Gesture>(input.below(6)), MidiPitch(from), MidiPitch(from + input.below(25) - 12),
              std::nullopt, std::nullopt};
    if (input.below(2) == 1) move.place = NeckPlace{1 + input.below(6), input.below(23)};
    if (input.below(2) == 1) move.targetFret = input.below(23);
    return move;
}

std::vector<Move> movesFrom(FuzzInput& input) {
    std::vector<Move> moves;
    for (int count = input.below(5); count > 0; --count) moves.push_back(moveFrom(input));
    return moves;
}

// Sound that reaches further in than noise does: a struck, decaying tone whose pitch glides.
class Tone {
public:
    void strike(FuzzInput& input) {
        from = 40.0 + 0.25 * input.take<std::uint8_t>();
        glide = input.take<std::int8_t>() / 32.0;
        level = 0.004 * input.take<std::uint8_t>();
        since = 0.0;
    }
    void add(std::vector<float>& block, std::size_t samples, double rate) {
        for (std::size_t i = 0; i < samples; ++i) {
            const double rise = std::clamp((since - 0.3) / 0.2, 0.0, 1.0);
            phase += 2.0 * std::numbers::pi * frequencyOf(MidiPitch(from + glide * rise)).value / rate;
            block.push_back(
                static_cast<float>(level * std::exp(-since) * (std::sin(phase) + 0.5 * std::sin(2.0 * phase))));
            since += 1.0 / rate;
        }
    }

private:
    double from = 60.0, glide = 0.0, level = 0.0, since = 0.0, phase = 0.0;
};

float oddSample(FuzzInput& input) {
    constexpr std::array odd{0.0F,  -0.0F,  1.0F,  -1.0F,     1e-42F,     -1e-38F,
                             1e30F, -3e38F, 16.0F, HUGE_VALF, -HUGE_VALF, NAN};
    return odd[static_cast<std::size_t>(input.below(static_cast<int>(odd.size())))];
}

// The next block; empty blocks are blocks too.
std::vector<float> blockFrom(FuzzInput& input, Tone& tone, double rate) {
    std::vector<float> block;
    switch (input.below(5)) {
        case 0:
            for (int n = input.below(64); n > 0; --n) block.push_back(input.take<float>());
            break;
        case 1:
            for (int n = input.below(16); n > 0; --n) block.push_back(oddSample(input));
            break;
        case 2: block.assign(static_cast<std::size_t>(input.take<std::uint16_t>() % 4096), oddSample(input)); break;
        case 3: tone.strike(input); [[fallthrough]];
        default: tone.add(block, static_cast<std::size_t>(input.take<std::uint16_t>() % 4096), rate);
    }
    return block;
}

void fuzzTracker(FuzzInput& input, double rate) {
    PitchTracker tracker({.sampleRate = rate});
    Tone tone;
    double heard = 0.0;
    while (!input.empty() && heard < longest) {
        switch (input.below(12)) {
            case 0: tracker.reset(); break;
            case 1: {
                PitchTracker::StringHint hint;
                if (input.below(2) == 1) hint.inharmonicity = input.take<float>();
                if (input.below(2) == 1) hint.expected = Hertz(input.take<float>());
                tracker.hint(hint);
                break;
            }
            default: {
                const auto block = blockFrom(input, tone, rate);
                heard += static_cast<double>(block.size()) / rate;
                const auto output = tracker.process(block);
                for (const PitchFrame& frame : output.provisional) check(frame);
                for (const PitchFrame& frame : output.settled) check(frame);
                for (const Onset& onset : output.onsets)
                    mustHold(onset.time <= onset.available, "a stroke is known after it was");
            }
        }
    }
}

void fuzzListener(FuzzInput& input, double rate) {
    Listener listener(
        {.sampleRate = rate, .a4 = Hertz(430.0 + input.below(21)), .target = static_cast<Target>(input.below(3))});
    const auto judgeAll = [](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events) std::visit(Check{}, event);
    };
    listener.setMoves(movesFrom(input), static_cast<MoveOrder>(input.below(2)));
    Tone tone;
    double heard = 0.0;
    while (!input.empty() && heard < longest) {
        switch (input.below(20)) {
            case 0: listener.setMoves(movesFrom(input), static_cast<MoveOrder>(input.below(2))); break;
            case 2: listener.discardLast(); break;
            case 4: judgeAll(listener.finish()); break;
            default: {
                const auto block = blockFrom(input, tone, rate);
                heard += static_cast<double>(block.size()) / rate;
                judgeAll(listener.process(block));
            }
        }
    }
    judgeAll(listener.finish());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    FuzzInput input(data, size);
    const int kind = input.below(4);
    const double rate = rates[static_cast<std::size_t>(input.below(static_cast<int>(rates.size())))];
    kind == 0 ? fuzzTracker(input, rate) : fuzzListener(input, rate);
    return 0;
}
