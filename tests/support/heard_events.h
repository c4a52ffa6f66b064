// Plays sound to a Listener in any cut and compares what it said, bit for bit. Plain functions.
#pragma once

#include <bit>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "src/practice/listener.h"

namespace landfall {

// `cut(n)`: the size of block n, 0 allowed.
template <typename Cut>
std::vector<ListenerEvent> eventsHeard(std::span<const float> sound, const ListenerConfig& config,
                                       const std::vector<Move>& moves, MoveOrder order, Cut cut) {
    Listener listener(config);
    listener.setMoves(moves, order);
    std::vector<ListenerEvent> events;
    const auto keep = [&](std::span<const ListenerEvent> some) {
        events.insert(events.end(), some.begin(), some.end());
    };
    for (std::size_t block = 0; !sound.empty(); ++block) {
        const auto part = sound.first(std::min<std::size_t>(cut(block), sound.size()));
        keep(listener.process(part));
        sound = sound.subspan(part.size());
    }
    keep(listener.finish());
    return events;
}

inline std::vector<Landing> landingsOf(std::span<const ListenerEvent> events) {
    std::vector<Landing> landings;
    for (const ListenerEvent& event : events)
        if (const auto* ended = std::get_if<TryEnded>(&event)) landings.push_back(ended->landing);
    return landings;
}

// The marks of a recording.
inline std::vector<Landing> landingsIn(std::span<const float> sound, double sampleRate,
                                       const std::vector<Move>& moves) {
    return landingsOf(eventsHeard(sound, {.sampleRate = sampleRate}, moves, MoveOrder::once,
                                  [](std::size_t) { return std::size_t{4096}; }));
}

// Everything that an event says, so that two events are alike exactly when these are.
struct EventBits {
    std::vector<std::uint64_t> numbers;
    std::string words;
    bool operator==(const EventBits&) const = default;

    void add(double value) { numbers.push_back(std::bit_cast<std::uint64_t>(value)); }
    template <typename Quantity>
    void add(const std::optional<Quantity>& quantity) {
        numbers.push_back(quantity ? 1 : 0);
        if (quantity) add(quantity->value);
    }
    void add(const PitchFrame& frame) {
        for (const double value :
             {frame.available.value, frame.centre.value, frame.sd.value, frame.level.value, frame.inharmonicity})
            add(value);
        add(frame.pitch);
    }
    void add(const Landing& landing) {
        words = landing.sentence;
        add(landing.moveNumber);
        add(landing.note), add(landing.tryNumber);
        add(static_cast<double>(landing.verdict));
        add(landing.onset.value);
        add(landing.end.value);
        for (const auto& time : {landing.landingTime, landing.riseTime, landing.holdLength, landing.linger}) add(time);
        for (const auto& cents : {landing.landingError, landing.firstStopError, landing.sd, landing.startError,
                                  landing.correction, landing.overshoot, landing.holdSpread, landing.sag})
            add(cents);
        add(landing.levelKept);
        add(landing.landedFret.value_or(-1));
        if (const auto& vibrato = landing.vibrato)
            for (const double value : {vibrato->rate.value, vibrato->width.value, vibrato->bottom.value,
                                       vibrato->top.value, vibrato->centre.value, vibrato->evenness})
                add(value);
    }
};

inline EventBits bitsOf(const ListenerEvent& event) {
    EventBits bits;
    bits.numbers.push_back(event.index());
    struct Reader {
        EventBits& to;
        void operator()(const InputLevel& e) {
            for (const double value :
                 {e.at.value, e.peak.value, e.rms.value, e.noSignal ? 1.0 : 0.0, e.clipping ? 1.0 : 0.0})
                to.add(value);
        }
        void operator()(const LivePitch& e) { to.add(e.frame), to.add(e.fromTarget); }
        void operator()(const LiveStrings& e) {
            to.add(e.at.value), to.add(e.time.value), to.add(e.note), to.add(e.moveNumber);
            for (const auto& each : e.fromTarget) to.add(each);
        }
        void operator()(const PickStroke& e) {
            for (const double value : {e.at.value, e.onset.available.value, e.onset.time.value, e.onset.rise.value})
                to.add(value);
            to.add(e.note);
        }
        void operator()(const TryBegan& e) {
            for (const double value :
                 {e.at.value, e.onset.value, static_cast<double>(e.moveNumber), e.again ? 1.0 : 0.0})
                to.add(value);
            to.add(e.note), to.add(e.tryNumber);
        }
        void operator()(const ProvisionalLanding& e) { to.add(e.at.value), to.add(e.landing); }
        void operator()(const FinalLanding& e) { to.add(e.at.value), to.add(e.landing); }
        void operator()(const TryEnded& e) { to.add(e.at.value), to.add(e.landing); }
        void operator()(const TryStruck& e) { to.add(e.at.value), to.add(e.tryNumber); }
        void operator()(const Noodling& e) { to.add(e.at.value), to.add(e.note), to.words = e.sentence; }
        void operator()(const EffectHeard& e) { to.add(e.at.value), to.add(static_cast<double>(e.effect)); }
        void operator()(const WrongStart& e) { to.add(e.at.value), to.add(e.note), to.words = e.sentence; }
    };
    std::visit(Reader{bits}, event);
    return bits;
}

}  // namespace landfall
